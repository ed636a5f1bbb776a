/* SPDX-License-Identifier: GPL-3.0-or-later
 * Heads of pictures: the least PNG and JPEG by their standards, and what is neither. */
#include "geo/picture.h"
#include "../testlib.h"

static void a_png_says_its_size(void **state)
{
    (void)state;
    /* W3C PNG, 5.2 and 11.2.2: signature, length 13, IHDR, width 640, height 480 */
    static const unsigned char png[] = {0x89, 'P', 'N', 'G', '\r', '\n', 0x1a, '\n', 0, 0, 0, 13,
                                        'I',  'H', 'D', 'R', 0,    0,    2,    0x80, 0, 0, 1, 0xe0};
    struct picture picture;
    assert_int_equal(picture_head((struct bytes){png, sizeof png}, &picture, NULL), OUTCOME_OK);
    assert_string_equal(picture.media, "image/png");
    assert_int_equal(picture.width, 640);
    assert_int_equal(picture.height, 480);
    struct failure why = {0};
    assert_int_equal(picture_head((struct bytes){png, sizeof png - 1}, &picture, &why), OUTCOME_DATA);
}

static void a_jpeg_says_its_size_after_other_segments(void **state)
{
    (void)state;
    /* ITU-T T.81, B.2.2: SOI, APP0 of 4 bytes, SOF0 with precision 8, height 300, width 400 */
    static const unsigned char jpeg[] = {0xff, 0xd8, 0xff, 0xe0, 0, 4, 1, 2, 0xff, 0xc0, 0, 17, 8, 1, 0x2c, 1, 0x90, 3, 1, 0x22};
    struct picture picture;
    assert_int_equal(picture_head((struct bytes){jpeg, sizeof jpeg}, &picture, NULL), OUTCOME_OK);
    assert_string_equal(picture.media, "image/jpeg");
    assert_int_equal(picture.width, 400);
    assert_int_equal(picture.height, 300);
}

static void what_is_no_picture_is_refused_with_a_remedy(void **state)
{
    (void)state;
    static const unsigned char text[] = "GIF89a and so on, for a while";
    struct picture picture;
    struct failure why = {0};
    assert_int_equal(picture_head((struct bytes){text, sizeof text}, &picture, &why), OUTCOME_DATA);
    assert_true(why.remedy[0] != '\0');
    assert_int_equal(picture_head((struct bytes){text, 0}, &picture, &why), OUTCOME_DATA);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_png_says_its_size),
        cmocka_unit_test(a_jpeg_says_its_size_after_other_segments),
        cmocka_unit_test(what_is_no_picture_is_refused_with_a_remedy),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
