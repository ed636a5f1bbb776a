/* SPDX-License-Identifier: GPL-3.0-or-later
 * Tables of terms, and XML text. */
#include "exchange/term_sheet.h"
#include <string.h>

void terms_begin(struct term_sheet *sheet, const char *file, const char *row_type, const char *const *terms)
{
    *sheet = (struct term_sheet){.file = file, .row_type = row_type, .terms = terms};
    for (size_t i = 0; terms[i] != NULL; i++)
        csv_add(&sheet->csv, strchr(terms[i], ':') + 1, i == 0, false);
    text_add(&sheet->csv, "\r\n");
}

void terms_cell(struct term_sheet *sheet, const char *cell)
{
    csv_add(&sheet->csv, cell == NULL ? "" : cell, sheet->at == 0, true);
    sheet->at++;
}

void terms_number(struct term_sheet *sheet, double value, int digits)
{
    char text[64] = "";
    if (is_known(value) && digits < 0)
        number_write(value, text);
    else if (is_known(value))
        number_fixed(value, digits, text);
    terms_cell(sheet, text);
}

void terms_end_row(struct term_sheet *sheet)
{
    require(sheet->terms[sheet->at] == NULL);
    text_add(&sheet->csv, "\r\n");
    sheet->at = 0;
    sheet->n_rows++;
}

static const char *space_of(const char *term)
{
    static const char *const spaces[][2] = {
        {"dwc:", "http://rs.tdwg.org/dwc/terms/"},
        {"dcterms:", "http://purl.org/dc/terms/"},
        {"eco:", "http://rs.tdwg.org/eco/terms/"},
        {"obis:", "http://rs.iobis.org/obis/terms/"},
    };
    for (size_t i = 0; i < sizeof spaces / sizeof *spaces; i++)
        if (strncmp(term, spaces[i][0], strlen(spaces[i][0])) == 0)
            return spaces[i][1];
    return "";
}

void terms_meta(const struct term_sheet *sheet, bool core, struct text *out)
{
    const char *kind = core ? "core" : "extension";
    text_print(
        out,
        "  <%s encoding=\"UTF-8\" fieldsTerminatedBy=\",\" linesTerminatedBy=\"\\r\\n\" fieldsEnclosedBy='\"' ignoreHeaderLines=\"1\" "
        "rowType=\"%s\">\n    <files>\n      <location>%s</location>\n    </files>\n    <%s index=\"0\"/>\n",
        kind, sheet->row_type, sheet->file, core ? "id" : "coreid");
    /* the key of the core is also its term; in an extension it only points to the core */
    for (size_t i = core ? 0 : 1; sheet->terms[i] != NULL; i++)
        text_print(out, "    <field index=\"%zu\" term=\"%s%s\"/>\n", i, space_of(sheet->terms[i]), strchr(sheet->terms[i], ':') + 1);
    text_print(out, "  </%s>\n", kind);
}

void xml_add(struct text *out, const char *words)
{
    for (const char *p = words == NULL ? "" : words; *p != '\0'; p++) {
        const char *escaped = *p == '&'    ? "&amp;"
                              : *p == '<'  ? "&lt;"
                              : *p == '>'  ? "&gt;"
                              : *p == '"'  ? "&quot;"
                              : *p == '\'' ? "&apos;"
                                           : NULL;
        if (escaped != NULL)
            text_add(out, escaped);
        else if ((unsigned char)*p < 0x20 && *p != '\n' && *p != '\t' && *p != '\r')
            text_add(out, " ");
        else
            text_add_n(out, p, 1);
    }
}
