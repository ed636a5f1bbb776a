/* SPDX-License-Identifier: GPL-3.0-or-later
 * Marks of layers and groups: told by shape and weight first. */
#include "draw/inside.h"
#include "draw/marks.h"
#include <math.h>

static void polygon(struct drawing *drawing, double x, double y, double radius, int corners, double turn, struct pen pen)
{
    double xy[16];
    for (int i = 0; i < corners; i++) {
        double a = turn + 2 * acos(-1) * i / corners;
        xy[2 * i] = x + radius * sin(a);
        xy[2 * i + 1] = y - radius * cos(a);
    }
    draw_polyline(drawing, xy, (size_t)corners, true, pen);
}

void draw_layer_mark(struct drawing *drawing, int layer, double x, double y, double radius)
{
    double thin = fmax(0.35, 0.14 * radius), heavy = fmax(0.6, 0.34 * radius), r = radius;
    switch (layer) {
    case 1:
        draw_disc(drawing, x, y, r, (struct pen){.fill = INK_CANOPY, .stroke = INK_TEXT, .width_pt = thin});
        break;
    case 2: {
        double half = 0.78 * r;
        draw_box(drawing, x - half, y - half, 2 * half, 2 * half, (struct pen){.fill = INK_PAPER, .stroke = INK_TEXT, .width_pt = heavy});
        draw_box(drawing, x - 0.3 * r, y - 0.3 * r, 0.6 * r, 0.6 * r, (struct pen){.fill = INK_SUBCANOPY});
        break;
    }
    case 3:
        polygon(drawing, x, y + 0.15 * r, 1.05 * r, 3, 0, (struct pen){.fill = INK_SHRUB, .stroke = INK_TEXT, .width_pt = thin});
        break;
    case 4:
        polygon(drawing, x, y, 1.05 * r, 4, 0, (struct pen){.fill = INK_CLIMBER, .stroke = INK_TEXT, .width_pt = thin});
        break;
    case 5:
        draw_line(drawing, x - 0.8 * r, y, x + 0.8 * r, y, (struct pen){.stroke = INK_TEXT, .width_pt = heavy});
        draw_line(drawing, x, y - 0.8 * r, x, y + 0.8 * r, (struct pen){.stroke = INK_TEXT, .width_pt = heavy});
        break;
    default:
        draw_disc(drawing, x, y, 0.6 * r, (struct pen){.stroke = INK_TEXT, .width_pt = thin});
        break;
    }
}

const char *layer_mark_words(int layer)
{
    static const char *const words[] = {"small ring", "filled disc", "heavy square", "triangle", "diamond", "plus"};
    return words[layer >= 0 && layer <= 5 ? layer : 0];
}

const char *layer_name(int layer)
{
    static const char *const names[] = {"layer not known", "canopy", "subcanopy", "shrub", "climber", "ground"};
    return names[layer >= 0 && layer <= 5 ? layer : 0];
}

void draw_group_mark(struct drawing *drawing, int group, double x, double y, double radius)
{
    enum ink ink = group_ink(group);
    struct pen full = {.fill = ink, .stroke = ink, .width_pt = 0.75}, open = {.fill = INK_PAPER, .stroke = ink, .width_pt = 1.2};
    switch (group & 3) {
    case 0:
        draw_disc(drawing, x, y, radius, full);
        break;
    case 1:
        draw_box(drawing, x - 0.85 * radius, y - 0.85 * radius, 1.7 * radius, 1.7 * radius, open);
        break;
    case 2:
        polygon(drawing, x, y, 1.15 * radius, 4, 0, full);
        break;
    default:
        polygon(drawing, x, y + 0.15 * radius, 1.15 * radius, 3, 0, open);
        break;
    }
}

enum ink group_ink(int group)
{
    return (enum ink)(INK_GROUP_1 + (group & 3));
}

enum dash group_dash(int group)
{
    return (enum dash)(group & 3);
}
