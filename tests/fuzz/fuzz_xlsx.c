/* SPDX-License-Identifier: GPL-3.0-or-later
 * Any bytes as the sheet, the strings and the styles of a spreadsheet whose package is sound: refused, or cells within bounds. */
#include "survey/survey.h"
#include <stdlib.h>
#include <string.h>
#include <zip.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

static const char rels[] = "<Relationships><Relationship Id=\"r1\" Type=\"x/officeDocument\" Target=\"xl/workbook.xml\"/></Relationships>";
static const char book_xml[] = "<workbook xmlns:r=\"x\"><sheets><sheet name=\"S\" r:id=\"r1\"/></sheets></workbook>";
static const char book_rels[] =
    "<Relationships><Relationship Id=\"r1\" Type=\"x/worksheet\" Target=\"sheet.xml\"/><Relationship Id=\"r2\" Type=\"x/sharedStrings\" "
    "Target=\"strings.xml\"/><Relationship Id=\"r3\" Type=\"x/styles\" Target=\"styles.xml\"/></Relationships>";

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    if (n > 100000)
        return 0;
    zip_error_t error;
    zip_error_init(&error);
    zip_source_t *source = zip_source_buffer_create(NULL, 0, 0, &error);
    zip_source_keep(source);
    zip_t *zip = zip_open_from_source(source, ZIP_TRUNCATE, &error);
    /* the input is cut into three at the first two bytes of 0xFF */
    const uint8_t *part[3] = {data, NULL, NULL};
    size_t length[3] = {n, 0, 0};
    for (int i = 0; i < 2; i++) {
        const uint8_t *cut = part[i] == NULL || length[i] == 0 ? NULL : memchr(part[i], 0xFF, length[i]);
        if (cut == NULL)
            break;
        part[i + 1] = cut + 1;
        length[i + 1] = length[i] - (size_t)(cut - part[i]) - 1;
        length[i] = (size_t)(cut - part[i]);
    }
    zip_file_add(zip, "_rels/.rels", zip_source_buffer(zip, rels, sizeof rels - 1, 0), 0);
    zip_file_add(zip, "xl/workbook.xml", zip_source_buffer(zip, book_xml, sizeof book_xml - 1, 0), 0);
    zip_file_add(zip, "xl/_rels/workbook.xml.rels", zip_source_buffer(zip, book_rels, sizeof book_rels - 1, 0), 0);
    static const char *const names[3] = {"xl/sheet.xml", "xl/strings.xml", "xl/styles.xml"};
    for (int i = 0; i < 3; i++)
        zip_file_add(zip, names[i],
                     zip_source_buffer(zip, part[i] == NULL ? (const uint8_t *)"" : part[i], part[i] == NULL ? 0 : length[i], 0), 0);
    if (zip_close(zip) != 0) {
        zip_discard(zip);
        zip_source_free(source);
        zip_error_fini(&error);
        return 0;
    }
    zip_source_open(source);
    zip_source_seek(source, 0, SEEK_END);
    zip_int64_t size = zip_source_tell(source);
    zip_source_seek(source, 0, SEEK_SET);
    char *bytes = malloc((size_t)size + 1);
    if (bytes != NULL && zip_source_read(source, bytes, (zip_uint64_t)size) == size) {
        struct arena arena = {0};
        struct workbook book;
        struct failure why = {0};
        if (workbook_read("fuzz.xlsx", bytes, (size_t)size, &arena, &book, &why) == OUTCOME_OK)
            for (size_t row = 0; row < book.sheets[0].rows; row++) {
                if (book.sheets[0].widths[row] > book.sheets[0].widest)
                    abort();
                for (size_t c = 0; c < book.sheets[0].widths[row]; c++)
                    if (book.sheets[0].cells[row][c].text != NULL && strlen(book.sheets[0].cells[row][c].text) > (1u << 20))
                        abort();
            }
        arena_clear(&arena);
    }
    free(bytes);
    zip_source_close(source);
    zip_source_free(source);
    zip_error_fini(&error);
    return 0;
}
