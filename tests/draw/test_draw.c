/* SPDX-License-Identifier: GPL-3.0-or-later
 * draw/: repeatable bytes, true scale, marks told apart in grey, published colours, figures of nothing. */
#include "samples.h"
#include "../testlib.h"
#include <cairo.h>
#include <pthread.h>

struct picture {
    cairo_surface_t *surface;
    int width, height;
};

struct reader {
    const char *at;
    size_t left;
};

static cairo_status_t take(void *who, unsigned char *out, unsigned n)
{
    struct reader *reader = who;
    if (n > reader->left)
        return CAIRO_STATUS_READ_ERROR;
    memcpy(out, reader->at, n);
    reader->at += n;
    reader->left -= n;
    return CAIRO_STATUS_SUCCESS;
}

static struct picture picture_of(const struct drawing *drawing, double dots_per_inch, bool grey)
{
    struct text png = {0};
    struct failure why;
    assert_int_equal(drawing_png(drawing, dots_per_inch, grey, &png, &why), OUTCOME_OK);
    struct reader reader = {text_get(&png), png.n};
    struct picture picture = {cairo_image_surface_create_from_png_stream(take, &reader), 0, 0};
    assert_int_equal(cairo_surface_status(picture.surface), CAIRO_STATUS_SUCCESS);
    picture.width = cairo_image_surface_get_width(picture.surface);
    picture.height = cairo_image_surface_get_height(picture.surface);
    text_free(&png);
    return picture;
}

/* Green of a dot, 0 … 255; of a grey picture its grey. */
static int dot(const struct picture *picture, int x, int y)
{
    const unsigned char *row =
        cairo_image_surface_get_data(picture->surface) + (ptrdiff_t)y * cairo_image_surface_get_stride(picture->surface);
    uint32_t p = 0;
    memcpy(&p, row + 4 * x, 4);
    return (int)(p >> 8 & 255);
}

static void the_same_drawing_gives_the_same_bytes(void **state)
{
    (void)state;
    for (int i = 0; i < SAMPLE_COUNT; i++) {
        struct text out[2][3] = {{{0}}};
        for (int again = 0; again < 2; again++) {
            const char *name = NULL;
            struct failure why;
            struct drawing *drawing = sample_draw(i, &name);
            drawing_svg(drawing, true, &out[again][0]);
            assert_int_equal(drawing_pdf(drawing, &out[again][1], &why), OUTCOME_OK);
            assert_int_equal(drawing_png(drawing, 96, false, &out[again][2], &why), OUTCOME_OK);
            drawing_free(drawing);
        }
        for (int kind = 0; kind < 3; kind++) {
            assert_int_equal(out[0][kind].n, out[1][kind].n);
            assert_memory_equal(out[0][kind].at, out[1][kind].at, out[0][kind].n);
            text_free(&out[0][kind]);
            text_free(&out[1][kind]);
        }
    }
}

static void *draw_all(void *out)
{
    for (int i = 0; i < SAMPLE_COUNT; i++) {
        const char *name = NULL;
        struct drawing *drawing = sample_draw(i, &name);
        drawing_svg(drawing, false, out);
        drawing_free(drawing);
    }
    return NULL;
}

static void two_threads_draw_the_same(void **state)
{
    (void)state;
    struct text out[3] = {{0}};
    pthread_t threads[2];
    for (int i = 0; i < 2; i++)
        assert_int_equal(pthread_create(&threads[i], NULL, draw_all, &out[i]), 0);
    for (int i = 0; i < 2; i++)
        pthread_join(threads[i], NULL);
    draw_all(&out[2]);
    for (int i = 0; i < 2; i++) {
        assert_int_equal(out[i].n, out[2].n);
        assert_memory_equal(out[i].at, out[2].at, out[2].n);
    }
    for (int i = 0; i < 3; i++)
        text_free(&out[i]);
}

static void our_svg_reads_back_to_itself(void **state)
{
    (void)state;
    for (int i = 0; i < SAMPLE_COUNT; i++) {
        const char *name = NULL;
        struct failure why;
        struct text first = {0}, second = {0};
        struct drawing *drawing = sample_draw(i, &name), *back = NULL;
        drawing_svg(drawing, true, &first);
        back = drawing_from_svg(text_get(&first), first.n, &why);
        assert_non_null(back);
        drawing_svg(back, true, &second);
        assert_string_equal(text_get(&second), text_get(&first));
        drawing_free(drawing);
        drawing_free(back);
        text_free(&first);
        text_free(&second);
    }
}

static void other_svg_is_refused(void **state)
{
    (void)state;
    static const char *const others[] = {
        "",
        "<svg/>",
        "words",
        "<svg viewBox=\"0 0 10 10\" class=\"drawing\"><script>x</script></svg>",
        "<!DOCTYPE svg [<!ENTITY a \"aaaa\">]><svg viewBox=\"0 0 10 10\" class=\"drawing\"><text>&a;</text></svg>",
        "<svg viewBox=\"0 0 10 10\" class=\"drawing\"><path d=\"M1 1C2 2 3 3 4 4\"/></svg>",
        "<svg viewBox=\"0 0 10 10\" class=\"drawing\"><image href=\"http://example.org\"/></svg>",
        "<svg viewBox=\"0 0 10 10\" class=\"drawing\"><rect x=\"nan\" y=\"0\" width=\"1\" height=\"1\"/></svg>",
    };
    for (size_t i = 0; i < sizeof others / sizeof *others; i++) {
        struct failure why;
        assert_null(drawing_from_svg(others[i], strlen(others[i]), &why));
        assert_int_equal(why.kind, OUTCOME_DATA);
    }
}

static void words_cannot_break_out_of_svg(void **state)
{
    (void)state;
    struct drawing *drawing = drawing_new(100, 20, "</title><script>", "\"><script>");
    draw_group(drawing, "a\"><script>");
    draw_text(drawing, 0, 10, (struct lettering){0}, "<script>alert(1)</script> & \xff\x01");
    draw_group_end(drawing);
    struct text out = {0};
    drawing_svg(drawing, true, &out);
    assert_null(strstr(text_get(&out), "<script"));
    assert_null(strchr(text_get(&out), 1));
    assert_non_null(strstr(text_get(&out), "&lt;script&gt;alert(1)"));
    text_free(&out);
    drawing_free(drawing);
}

static int bar_dots(const struct map *map, int scale)
{
    struct map sized = *map;
    struct failure why;
    struct drawing *drawing = NULL;
    sized.scale = scale;
    assert_int_equal(map_draw(&sized, &drawing, NULL, &why), OUTCOME_OK);
    struct picture picture = picture_of(drawing, 254, true); /* ten dots to the millimetre */
    /* The frame's lower edge spans the sheet; the first dark run below it that begins near the left edge is the bar. */
    int found = 0;
    for (int y = picture.height - 1; y > 0 && found == 0; y--) {
        int run = 0, from = -1, least = 0;
        for (int x = 10; x < picture.width - 10; x++) {
            if (dot(&picture, x, y) < 128) {
                from = from < 0 ? x : from;
                run = x - from + 1;
            } else if (from >= 0) {
                break;
            }
        }
        least = (int)(map_bar_m(scale) / scale * 1000 * 5); /* half the bar at least: letters are shorter */
        if (from >= 0 && from < 40 && run > least)
            found = run;
    }
    cairo_surface_destroy(picture.surface);
    drawing_free(drawing);
    return found;
}

static void the_scale_bar_measures_true(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct map map;
    struct box extent = {155001, 463001, 155003, 463003};
    sample_map(&arena, 0, &map);
    map.legend = false;
    map.n_cells = 0;
    map.extent = &extent;
    static const int scales[] = {50, 100, 200, 500, 1000, 1250, 2500};
    for (size_t i = 0; i < sizeof scales / sizeof *scales; i++) {
        double wanted = map_bar_m(scales[i]) / scales[i] * 1000 * 10;
        assert_near(bar_dots(&map, scales[i]), wanted, 3); /* the stroke's own width and one dot at each end */
    }
    arena_clear(&arena);
}

static void ground_is_drawn_at_its_scale(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct map map = {.width_pt = 515, .height_pt = 640};
    struct shape square = shape_rectangle(&arena, 1000, 2000, 15, 15, 0);
    struct map_area area = {&square, "D1", true, MAP_FILL_NONE};
    map.areas = &area;
    map.n_areas = 1;
    map.scale = 100;
    struct drawing *drawing = NULL;
    struct failure why;
    int scale = 0;
    assert_int_equal(map_draw(&map, &drawing, &scale, &why), OUTCOME_OK);
    assert_int_equal(scale, 100);
    struct text out = {0};
    drawing_svg(drawing, false, &out);
    const char *path = strstr(text_get(&out), "stroke-width=\"2\"/>");
    assert_non_null(path);
    while (path > out.at && strncmp(path, "<path d=\"M", 10) != 0)
        path--;
    double x1 = 0, y1 = 0, x2 = 0, y2 = 0;
    assert_int_equal(sscanf(path, "<path d=\"M%lf %lfL%lf %lf", &x1, &y1, &x2, &y2), 4);
    assert_near(hypot(x2 - x1, y2 - y1), 150 * 72 / 25.4, 0.02); /* 15 m at 1:100 are 150 mm */
    text_free(&out);
    drawing_free(drawing);
    arena_clear(&arena);
}

static void the_largest_scale_that_fits_is_chosen(void **state)
{
    (void)state;
    double mm = 72 / 25.4;
    assert_int_equal(map_scale_fit(10, 10, 200 * mm, 200 * mm), 50);
    assert_int_equal(map_scale_fit(10.001, 10, 200 * mm, 200 * mm), 100);
    assert_int_equal(map_scale_fit(100, 10, 200 * mm, 200 * mm), 500);
    assert_int_equal(map_scale_fit(250, 10, 200 * mm, 200 * mm), 1250);
    assert_int_equal(map_scale_fit(1e6, 10, 200 * mm, 200 * mm), 0);
    for (const int *scale = map_scales; *scale != 0; scale++) {
        double on_paper_mm = map_bar_m(*scale) / *scale * 1000;
        assert_true(on_paper_mm >= 30 && on_paper_mm <= 80 + 1e-9);
    }
}

static void a_scale_that_does_not_fit_is_refused_with_one_that_does(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct map map;
    struct drawing *drawing = NULL;
    struct failure why = {0};
    sample_map(&arena, 10, &map);
    map.scale = 50;
    assert_int_equal(map_draw(&map, &drawing, NULL, &why), OUTCOME_DATA);
    assert_null(drawing);
    assert_non_null(strstr(why.remedy, "1:500"));
    struct map nothing = {0};
    assert_int_equal(map_draw(&nothing, &drawing, NULL, &why), OUTCOME_DATA);
    arena_clear(&arena);
}

/* Marks of layers in grey must differ in many dots, as a photocopy shows them at the size of a card and of a map. */
static void layers_differ_in_grey(void **state)
{
    (void)state;
    static const double radii[] = {8, 3};
    for (size_t s = 0; s < 2; s++) {
        struct picture pictures[6];
        for (int layer = 0; layer <= 5; layer++) {
            struct drawing *drawing = drawing_new(3 * radii[s], 3 * radii[s], NULL, NULL);
            draw_layer_mark(drawing, layer, 1.5 * radii[s], 1.5 * radii[s], radii[s]);
            pictures[layer] = picture_of(drawing, 150, true);
            drawing_free(drawing);
        }
        for (int a = 0; a <= 5; a++)
            for (int b = a + 1; b <= 5; b++) {
                double apart = 0;
                for (int y = 0; y < pictures[a].height; y++)
                    for (int x = 0; x < pictures[a].width; x++)
                        apart += abs(dot(&pictures[a], x, y) - dot(&pictures[b], x, y)) / 255.0;
                apart /= pictures[a].width * pictures[a].height;
                if (!(apart > 0.05))
                    fail_msg("layers %d and %d differ by only %.3f of their dots at radius %g", a, b, apart, radii[s]);
            }
        for (int layer = 0; layer <= 5; layer++)
            cairo_surface_destroy(pictures[layer].surface);
    }
}

/* Okabe & Ito 2008, jfly.uni-koeln.de/color, the table of colours in RGB (0–255); set down from memory. */
static void colours_are_those_of_the_published_set(void **state)
{
    (void)state;
    static const struct {
        enum ink ink;
        int rgb[3];
    } published[] = {{INK_GROUND, {230, 159, 0}},   {INK_SUBCANOPY, {86, 180, 233}}, {INK_CANOPY, {0, 158, 115}},
                     {INK_CLIMBER, {240, 228, 66}}, {INK_ACCENT, {0, 114, 178}},     {INK_CAUTION, {213, 94, 0}},
                     {INK_SHRUB, {204, 121, 167}},  {INK_GROUP_2, {0, 0, 0}}};
    for (size_t i = 0; i < sizeof published / sizeof *published; i++) {
        double rgb[3];
        ink_rgb(published[i].ink, false, rgb);
        for (int c = 0; c < 3; c++)
            assert_int_equal((int)lround(rgb[c] * 255), published[i].rgb[c]);
    }
}

/* Relative luminance and contrast, WCAG 2.2 (W3C 2023), definitions of "relative luminance" and "contrast ratio". */
static double luminance(const double rgb[3])
{
    static const double weights[3] = {0.2126, 0.7152, 0.0722};
    double sum = 0;
    for (int c = 0; c < 3; c++)
        sum += weights[c] * (rgb[c] <= 0.04045 ? rgb[c] / 12.92 : pow((rgb[c] + 0.055) / 1.055, 2.4));
    return sum;
}

static double contrast(enum ink a, enum ink b, bool night)
{
    double p[3], q[3];
    ink_rgb(a, night, p);
    ink_rgb(b, night, q);
    double x = luminance(p), y = luminance(q);
    return (fmax(x, y) + 0.05) / (fmin(x, y) + 0.05);
}

static void words_and_lines_stand_out_by_day_and_by_night(void **state)
{
    (void)state;
    for (int night = 0; night < 2; night++) {
        assert_true(contrast(INK_TEXT, INK_PAPER, night) >= 7);
        assert_true(contrast(INK_SOFT, INK_PAPER, night) >= 4.5);
        assert_true(contrast(INK_TEXT, INK_WASH, night) >= 7);
        assert_true(contrast(INK_ACCENT, INK_PAPER, night) >= 4.5);
        assert_true(contrast(INK_CAUTION, INK_PAPER, night) >= 3);
        for (int group = 0; group < 4; group++) /* lines that carry meaning: 1.4.11; the fourth comes seldom and is dashed too */
            assert_true(contrast((enum ink)(INK_GROUP_1 + group), INK_PAPER, night) >= (group == 3 ? 2.5 : 3));
    }
}

/* Lines a gap apart, times the gap, are the area (Cavalieri). An angular shape with a hole. */
static void hatching_covers_the_shape_and_nothing_else(void **state)
{
    (void)state;
    static const double xy[] = {0, 0, 100, 0, 100, 40, 50, 40, 50, 90, 0, 90, 10, 10, 30, 10, 30, 30, 10, 30};
    static const size_t ends[] = {6, 10};
    double area = 100 * 40 + 50 * 50 - 20 * 20;
    for (double turn = 0; turn < 180; turn += 22.5) {
        struct drawing *drawing = drawing_new(100, 100, NULL, NULL);
        draw_hatch(drawing, xy, ends, 2, turn, 1, (struct pen){.stroke = INK_TEXT});
        struct text out = {0};
        drawing_svg(drawing, false, &out);
        double length = 0, x1 = 0, y1 = 0, x2 = 0, y2 = 0;
        for (const char *at = text_get(&out); (at = strstr(at, "<path d=\"M")) != NULL; at++) {
            assert_int_equal(sscanf(at, "<path d=\"M%lf %lfL%lf %lf", &x1, &y1, &x2, &y2), 4);
            length += hypot(x2 - x1, y2 - y1);
        }
        assert_near(length, area, 0.02 * area);
        text_free(&out);
        drawing_free(drawing);
    }
}

static void values_have_one_form(void **state)
{
    (void)state;
    char out[160];
    value_write((struct draw_value){78.2, 71.4, 83.6}, 0, "%", out);
    assert_string_equal(out, "78 % (71–84)");
    value_write((struct draw_value){-3, -14, 8}, 0, "points", out);
    assert_string_equal(out, "−3 points (−14 to 8)");
    value_write((struct draw_value){NAN, 71, 84}, 0, "%", out);
    assert_string_equal(out, "between 71 and 84 %");
    value_write((struct draw_value){NAN, NAN, NAN}, 0, "%", out);
    assert_string_equal(out, "not known");
    value_write((struct draw_value){2.345, NAN, NAN}, 2, NULL, out);
    assert_string_equal(out, "2.35");
    value_write_share((struct draw_value){78, 71, 84}, 234, 300, 0, out);
    assert_string_equal(out, "78 % (71–84), 234 of 300");
    value_write_share((struct draw_value){100, 57, 100}, 5, 5, 0, out); /* fewer than ten: no percentage leads */
    assert_string_equal(out, "5 of 5 (interval 57–100 %)");
    value_write_share((struct draw_value){0, 0, 0}, 0, 0, 0, out);
    assert_string_equal(out, "not known");
    char number[80];
    value_write_number(1234567.5, 1, number);
    assert_string_equal(number, "1\u202f234\u202f567.5");
    value_write_number(-12345, 0, number);
    assert_string_equal(number, "−12\u202f345");
    value_write_number(1234, 0, number);
    assert_string_equal(number, "1234");
    value_write_number(NAN, 0, number);
    assert_string_equal(number, "not known");
}

static bool says(const struct drawing *drawing, const char *words)
{
    struct text out = {0};
    drawing_svg(drawing, true, &out);
    bool found = strstr(text_get(&out), words) != NULL;
    text_free(&out);
    return found;
}

static void figures_of_nothing_say_so(void **state)
{
    (void)state;
    double unknown[3] = {NAN, NAN, NAN}, x[3] = {0, 1, 2};
    struct figure_line line = {.name = "D1", .x = x, .y = unknown, .n = 3};
    struct figure_strip strip = {.name = "D1", .values = unknown, .n = 3, .mean = {NAN, NAN, NAN}};
    struct drawing *drawings[] = {
        figure_lines(&(struct figure_lines){.head = {.title = NULL}}),
        figure_lines(&(struct figure_lines){.lines = &line, .n_lines = 1, .steps = true}),
        figure_intervals(&(struct figure_intervals){.reference = NAN}),
        figure_strips(&(struct figure_strips){.strips = &strip, .n_strips = 1}),
        figure_fans(&(struct figure_fans){.head = {.title = NULL}}),
        figure_bars(&(struct figure_bars){.head = {.title = NULL}}),
        figure_histogram(&(struct figure_histogram){.values = unknown, .n = 3}),
        figure_profile(&(struct figure_profile){.head = {.title = NULL}}),
        figure_calendar(&(struct figure_calendar){.today = DATE_UNKNOWN}),
        figure_cells(&(struct figure_cells){.head = {.title = NULL}}),
    };
    for (size_t i = 0; i < sizeof drawings / sizeof *drawings; i++) {
        assert_true(says(drawings[i], "No ") || says(drawings[i], "Nothing"));
        assert_true(*drawing_about(drawings[i]) != '\0');
        drawing_free(drawings[i]);
    }
}

static void unknown_is_not_drawn_as_zero(void **state)
{
    (void)state;
    static const struct figure_row rows[] = {{.label = "A", .value = {NAN, NAN, NAN}}, {.label = "B", .value = {5, 4, 6}}};
    struct drawing *drawing = figure_intervals(&(struct figure_intervals){.rows = rows, .n_rows = 2, .unit = "%", .reference = NAN});
    assert_true(says(drawing, "not known"));
    assert_non_null(strstr(drawing_about(drawing), "A: not known"));
    drawing_free(drawing);
    double values[4] = {1, NAN, 0, 2};
    drawing = figure_cells(&(struct figure_cells){.rows = 2, .columns = 2, .values = values});
    assert_true(says(drawing, "not known"));
    assert_non_null(strstr(drawing_about(drawing), "1 not known"));
    drawing_free(drawing);
}

static void every_figure_has_words_for_those_who_cannot_see_it(void **state)
{
    (void)state;
    for (int i = 0; i < SAMPLE_COUNT; i++) {
        const char *name = NULL;
        struct drawing *drawing = sample_draw(i, &name);
        assert_true(strlen(drawing_title(drawing)) > 3);
        assert_true(strlen(drawing_about(drawing)) > 20);
        drawing_free(drawing);
    }
}

static void wrapped_words_stay_within_their_width(void **state)
{
    (void)state;
    struct drawing *drawing = drawing_new(100, 100, NULL, NULL);
    const char *words =
        "Kaplan–Meier with bands; fine dotted lines: all not-found plants dead, all alive. One site: the pair differs in preparation.";
    double below = draw_text_wrapped(drawing, 0, 10, 90, 10, (struct lettering){.size_pt = 7}, words);
    assert_true(below > 40);
    struct text out = {0};
    drawing_svg(drawing, false, &out);
    size_t letters = 0;
    for (const char *at = text_get(&out); (at = strstr(at, "fill=\"#1a1a1a\">")) != NULL;) {
        at += strlen("fill=\"#1a1a1a\">");
        char line[200] = "";
        snprintf(line, sizeof line, "%.*s", (int)strcspn(at, "<"), at);
        assert_true(draw_text_width(drawing, (struct lettering){.size_pt = 7}, line) <= 90);
        letters += strlen(line) + 1;
    }
    assert_int_equal(letters, strlen(words) + 1); /* nothing lost but the spaces at line ends */
    text_free(&out);
    drawing_free(drawing);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_same_drawing_gives_the_same_bytes),
        cmocka_unit_test(two_threads_draw_the_same),
        cmocka_unit_test(our_svg_reads_back_to_itself),
        cmocka_unit_test(other_svg_is_refused),
        cmocka_unit_test(words_cannot_break_out_of_svg),
        cmocka_unit_test(the_scale_bar_measures_true),
        cmocka_unit_test(ground_is_drawn_at_its_scale),
        cmocka_unit_test(the_largest_scale_that_fits_is_chosen),
        cmocka_unit_test(a_scale_that_does_not_fit_is_refused_with_one_that_does),
        cmocka_unit_test(layers_differ_in_grey),
        cmocka_unit_test(colours_are_those_of_the_published_set),
        cmocka_unit_test(words_and_lines_stand_out_by_day_and_by_night),
        cmocka_unit_test(hatching_covers_the_shape_and_nothing_else),
        cmocka_unit_test(values_have_one_form),
        cmocka_unit_test(figures_of_nothing_say_so),
        cmocka_unit_test(unknown_is_not_drawn_as_zero),
        cmocka_unit_test(every_figure_has_words_for_those_who_cannot_see_it),
        cmocka_unit_test(wrapped_words_stay_within_their_width),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
