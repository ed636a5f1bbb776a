/* SPDX-License-Identifier: GPL-3.0-or-later
 * Writes every sample drawing as SVG, PDF and PNG into a folder: draw_show FOLDER. For looking at. */
#include "samples.h"
#include <stdio.h>

int main(int n, char **arguments)
{
    struct failure why;
    for (int i = 0; n > 1 && i < SAMPLE_COUNT; i++) {
        const char *name = NULL;
        struct drawing *drawing = sample_draw(i, &name);
        for (int kind = 0; kind < 4; kind++) {
            static const char *const endings[] = {"svg", "pdf", "png", "grey.png"};
            char path[1000];
            struct text out = {0};
            if (kind == 0)
                drawing_svg(drawing, true, &out);
            else if ((kind == 1 ? drawing_pdf(drawing, &out, &why) : drawing_png(drawing, 144, kind == 3, &out, &why)) != OUTCOME_OK)
                fprintf(stderr, "%s\n", why.sentence);
            snprintf(path, sizeof path, "%s/%s.%s", arguments[1], name, endings[kind]);
            if (file_write(path, text_get(&out), out.n, &why) != OUTCOME_OK)
                fprintf(stderr, "%s\n", why.sentence);
            text_free(&out);
        }
        drawing_free(drawing);
    }
    return 0;
}
