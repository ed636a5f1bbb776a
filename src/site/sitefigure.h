/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the files of site/ share: looking up a figure, its local rule, and sentences gathered in a list. */
#ifndef SPINNEY_SITE_SITEFIGURE_H
#define SPINNEY_SITE_SITEFIGURE_H
#include "site/site.h"

/// A figure with where it comes from.
struct figure {
    bool known;
    double value;     ///< the figure, or what is drawn meanwhile
    double default_m; ///< of the table
    enum site_grade grade;
    const char *source;
};
/// The figure of a key: the site's newest local rule, else the programme's, else the table. Fails where a rule is not a
/// distance in metres (or in `unit`) between `least` and `most`.
enum outcome figure_find(const struct site_facts *facts, const char *key, struct arena *arena, struct figure *out, struct failure *why);
/// Newest local rule of a key, site before programme; NULL none.
const struct local_rule *rule_find(const struct site_facts *facts, const char *key);
/// Add a sentence to a list in the arena.
void add_sentence(struct arena *arena, const char ***list, size_t *n, const char *format, ...) __attribute__((format(printf, 4, 5)));
/// Name of a constraint for sentences: its label, or its kind in words ("the gas service").
const char *constraint_name(const struct constraint *c, struct arena *arena);
/// Whether a constraint belongs to the site and has a shape.
bool constraint_here(const struct site_facts *facts, const struct constraint *c);
/// What distances from a constraint are counted from: its geometry; for a tree its stem.
struct shape distance_origin(const struct constraint *c, const struct shape *drawn, struct arena *arena);
/// A number with up to two decimals, without trailing zeros: "9.6".
const char *short_number(struct arena *arena, double x);
/// A word of an enum with spaces for underscores.
const char *plain_word(struct arena *arena, enum word_list list, int value);
#endif
