/* SPDX-License-Identifier: GPL-3.0-or-later
 * Colours by what they are for. The eight of Okabe & Ito 2008, "Color universal design (CUD): how to make figures and
 * presentations that are friendly to colorblind people", jfly.uni-koeln.de/color, with greys of our own. */
#include "draw/inside.h"
#include <string.h>

static const struct {
    const char *name;
    unsigned day, night; ///< 0xrrggbb
} inks[INK_COUNT] = {
    [INK_NONE] = {"none", 0, 0},
    [INK_TEXT] = {"text", 0x1a1a1a, 0xe8e6df},
    [INK_SOFT] = {"soft", 0x595955, 0xb0afa8},
    [INK_FAINT] = {"faint", 0xc9c8c2, 0x434a4d},
    [INK_PAPER] = {"paper", 0xffffff, 0x14181a},
    [INK_WASH] = {"wash", 0xefeee9, 0x20272a},
    [INK_ACCENT] = {"accent", 0x0072b2, 0x56b4e9},
    [INK_CAUTION] = {"caution", 0xd55e00, 0xe8873d},
    [INK_CANOPY] = {"canopy", 0x009e73, 0x009e73},
    [INK_SUBCANOPY] = {"subcanopy", 0x56b4e9, 0x56b4e9},
    [INK_SHRUB] = {"shrub", 0xcc79a7, 0xcc79a7},
    [INK_CLIMBER] = {"climber", 0xf0e442, 0xf0e442},
    [INK_GROUND] = {"ground", 0xe69f00, 0xe69f00},
    [INK_GROUP_1] = {"group-1", 0x0072b2, 0x56b4e9},
    [INK_GROUP_2] = {"group-2", 0x000000, 0xffffff},
    [INK_GROUP_3] = {"group-3", 0x009e73, 0x2fc79c},
    [INK_GROUP_4] = {"group-4", 0xcc79a7, 0xcc79a7},
};

const char *ink_name(enum ink ink)
{
    return inks[ink < INK_COUNT ? ink : INK_NONE].name;
}

void ink_rgb(enum ink ink, bool night, double rgb[3])
{
    unsigned c = night ? inks[ink].night : inks[ink].day;
    rgb[0] = (c >> 16 & 255) / 255.0;
    rgb[1] = (c >> 8 & 255) / 255.0;
    rgb[2] = (c & 255) / 255.0;
}

void ink_hex(enum ink ink, bool night, char out[8])
{
    static const char digit[] = "0123456789abcdef";
    unsigned c = night ? inks[ink].night : inks[ink].day;
    out[0] = '#';
    for (int i = 0; i < 6; i++)
        out[i + 1] = digit[c >> (20 - 4 * i) & 15];
    out[7] = '\0';
}

enum ink ink_find(const char *name, size_t n)
{
    for (enum ink ink = INK_TEXT; ink < INK_COUNT; ink++)
        if (strlen(inks[ink].name) == n && memcmp(inks[ink].name, name, n) == 0)
            return ink;
    return INK_NONE;
}

static void variables(struct text *out, bool night)
{
    char hex[8];
    for (enum ink ink = INK_TEXT; ink < INK_COUNT; ink++) {
        ink_hex(ink, night, hex);
        text_print(out, "--ink-%s:%s;", inks[ink].name, hex);
    }
}

void draw_stylesheet(struct text *out)
{
    text_add(out, ":root{");
    variables(out, false);
    text_add(out, "}\n@media screen and (prefers-color-scheme:dark){:root{");
    variables(out, true);
    text_add(out, "}}\n");
    for (enum ink ink = INK_TEXT; ink < INK_COUNT; ink++)
        text_print(out, ".f-%s{fill:var(--ink-%s)}.s-%s{stroke:var(--ink-%s)}\n", inks[ink].name, inks[ink].name, inks[ink].name,
                   inks[ink].name);
}
