/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the files of draw/ share: the list of operations a drawing is made of, and numbers as SVG writes them. */
#ifndef SPINNEY_DRAW_INSIDE_H
#define SPINNEY_DRAW_INSIDE_H
#include "draw/draw.h"

enum op_kind { OP_PATH, OP_DISC, OP_BOX, OP_TEXT, OP_CLIP, OP_CLIP_END, OP_GROUP, OP_GROUP_END };

/// One operation. Its numbers lie in the drawing's column `xy` from `at`: points of a path; x, y, radius of a disc;
/// x, y, width, height of a box or clip; x, y of words.
struct op {
    enum op_kind kind;
    bool closed;
    struct pen pen;
    struct lettering lettering;
    const char *words; ///< of text and groups
    size_t at, n;      ///< first number and count of points
    size_t ends_at, n_rings;
};

struct drawing {
    struct arena arena;
    double width_pt, height_pt;
    const char *title, *about;
    struct op *ops;
    size_t n_ops, room_ops;
    double *xy;
    size_t n_xy, room_xy;
    size_t *ends; ///< of each ring of each path, in points from the path's first
    size_t n_ends, room_ends;
    void *letters; ///< PangoLayout, made when first needed
};

/// Start an operation with `n` numbers; the pointer is good until the next one.
struct op *op_add(struct drawing *drawing, enum op_kind kind, size_t n_numbers, double **numbers);
/// Pen and lettering with the defaults put in.
struct pen pen_whole(struct pen pen);
struct lettering lettering_whole(struct lettering lettering);
/// UTF-8 that XML and Pango accept: bad bytes and control characters replaced.
char *words_clean(struct arena *arena, const char *words);
/// Two decimals at most, no trailing zeros, a point in every locale. Returns the end.
char *number_short(double x, char *out);
/// On and off lengths of a dash for a stroke width; n is 0 for solid.
size_t dash_lengths(enum dash dash, double width_pt, double out[4]);
enum ink ink_find(const char *name, size_t n); ///< INK_NONE where there is none
void ink_hex(enum ink ink, bool night, char out[8]);

/// The layout that sets these words at this size on a context; borrowed from the drawing.
struct _PangoLayout *letters_set(const struct drawing *drawing, struct lettering lettering, const char *words);
void letters_free(struct drawing *drawing);
extern const char letters_family[]; ///< families in order of choice, as CSS and Pango read them
#endif
