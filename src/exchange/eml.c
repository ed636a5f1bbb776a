/* SPDX-License-Identifier: GPL-3.0-or-later
 * Metadata of the data set in the Ecological Metadata Language, version 2.2.0 (Jones et al. 2019, doi 10.5063/F11834T2). */
#include "exchange/term_sheet.h"
#include <math.h>

void exchange_eml(const struct exchange_set *set, const struct exchange_terms *terms, const double box_deg[4], int32_t first, int32_t last,
                  struct arena *arena, struct text *out);

static void element(struct text *out, int depth, const char *name, const char *words)
{
    text_print(out, "%*s<%s>", 2 * depth, "", name);
    xml_add(out, words);
    text_print(out, "</%s>\n", name);
}

static void party(struct text *out, const char *name, const char *who)
{
    text_print(out, "    <%s>\n", name);
    element(out, 3, "organizationName", who);
    text_print(out, "    </%s>\n", name);
}

/* Genus and species of what was planted, each once. */
static void taxa(const struct exchange_set *set, struct arena *arena, struct text *out)
{
    const struct plant *plants = set->of[NOUN_PLANT].rows;
    const char **seen = arena_array(arena, set->of[NOUN_PLANT].n + 1, sizeof *seen);
    size_t n = 0;
    for (size_t i = 0; i < set->of[NOUN_PLANT].n; i++) {
        size_t at = 0;
        while (at < n && !text_same(seen[at], plants[i].species))
            at++;
        if (at == n)
            seen[n++] = plants[i].species;
    }
    if (n == 0)
        return;
    text_add(out, "      <taxonomicCoverage>\n        <generalTaxonomicCoverage>Planted woody species; wildlife as named in the records"
                  "</generalTaxonomicCoverage>\n");
    for (size_t i = 0; i < n; i++) {
        text_add(out, "        <taxonomicClassification>\n");
        element(out, 5, "taxonRankName", "species");
        element(out, 5, "taxonRankValue", seen[i]);
        text_add(out, "        </taxonomicClassification>\n");
    }
    text_add(out, "      </taxonomicCoverage>\n");
}

static void coverage(const struct exchange_set *set, const double box_deg[4], int32_t first, int32_t last, struct arena *arena,
                     struct text *out)
{
    static const char *const names[] = {"westBoundingCoordinate", "eastBoundingCoordinate", "northBoundingCoordinate",
                                        "southBoundingCoordinate"};
    const double values[] = {box_deg[0], box_deg[2], box_deg[3], box_deg[1]};
    text_add(out, "    <coverage>\n");
    if (isfinite(box_deg[0])) {
        text_add(out, "      <geographicCoverage>\n        <geographicDescription>Sites of the programme</geographicDescription>\n"
                      "        <boundingCoordinates>\n");
        for (int i = 0; i < 4; i++) {
            char number[64];
            number_fixed(values[i], 4, number);
            element(out, 5, names[i], number);
        }
        text_add(out, "        </boundingCoordinates>\n      </geographicCoverage>\n");
    }
    if (first != DATE_UNKNOWN) {
        char a[16], b[16];
        date_write(first, a);
        date_write(last, b);
        text_print(out,
                   "      <temporalCoverage>\n        <rangeOfDates>\n          <beginDate><calendarDate>%s</calendarDate></beginDate>\n"
                   "          <endDate><calendarDate>%s</calendarDate></endDate>\n        </rangeOfDates>\n      </temporalCoverage>\n",
                   a, b);
    }
    taxa(set, arena, out);
    text_add(out, "    </coverage>\n");
}

static void methods(const struct exchange_set *set, struct text *out)
{
    const struct protocol *rules = set->of[NOUN_PROTOCOL].rows;
    text_add(out, "    <methods>\n      <methodStep>\n        <description>\n          <para>");
    xml_add(out, "Every planted individual has an identity; at each visit its state and, where measured, height to the living tip, stem "
                 "diameter and "
                 "damage are recorded. A plant that is not found is recorded as not found. Plots of a site are given their treatments by "
                 "recorded lot "
                 "or chosen, as the allocation says.");
    for (size_t i = 0; i < set->of[NOUN_PROTOCOL].n; i++)
        if (rules[i].established != NULL) {
            xml_add(out, " Established (version ");
            xml_add(out, rules[i].version);
            xml_add(out, "): ");
            xml_add(out, rules[i].established);
        }
    text_add(out, "</para>\n        </description>\n      </methodStep>\n      <sampling>\n        <studyExtent>\n          <description>\n"
                  "            <para>Sites of the programme, each with one or several plots.</para>\n          </description>\n"
                  "        </studyExtent>\n        <samplingDescription>\n          <para>Censuses of every plant or of a sample of "
                  "squares or plants, "
                  "as each visit says; looks for wildlife with their effort; soil by depth.</para>\n        </samplingDescription>\n"
                  "      </sampling>\n    </methods>\n");
}

void exchange_eml(const struct exchange_set *set, const struct exchange_terms *terms, const double box_deg[4], int32_t first, int32_t last,
                  struct arena *arena, struct text *out)
{
    const struct programme *programme = exchange_programme(set);
    const char *who = terms->contributor == NULL ? "not named" : terms->contributor, *page = exchange_licence_page(terms->licence);
    char uuid[37] = "", day[16];
    if (programme != NULL)
        uuid_write(&programme->uuid, uuid);
    date_write(terms->made_on, day);
    text_print(out,
               "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<eml:eml xmlns:eml=\"https://eml.ecoinformatics.org/eml-2.2.0\" "
               "xmlns:xsi=\"http://www.w3.org/2001/XMLSchema-instance\" "
               "xsi:schemaLocation=\"https://eml.ecoinformatics.org/eml-2.2.0 https://eml.ecoinformatics.org/eml-2.2.0/eml.xsd\" "
               "packageId=\"urn:uuid:%s/%s\" system=\"uuid\" xml:lang=\"en\">\n  <dataset>\n",
               uuid, day);
    element(out, 2, "title", exchange_title(set, terms));
    party(out, "creator", who);
    element(out, 2, "pubDate", day);
    text_add(out, "    <language>en</language>\n    <abstract>\n      <para>");
    xml_add(out, exchange_abstract(set, arena));
    text_add(out, "</para>\n    </abstract>\n    <keywordSet>\n      <keyword>urban woodland</keyword>\n"
                  "      <keyword>dense native planting</keyword>\n      <keyword>comparison plot</keyword>\n    </keywordSet>\n"
                  "    <intellectualRights>\n      <para>");
    xml_add(out, terms->licence);
    if (page != NULL) {
        xml_add(out, ", ");
        xml_add(out, page);
    }
    text_add(out, "</para>\n    </intellectualRights>\n");
    if (page != NULL) {
        text_add(out, "    <licensed>\n");
        element(out, 3, "licenseName", terms->licence);
        element(out, 3, "url", page);
        element(out, 3, "identifier", terms->licence);
        text_add(out, "    </licensed>\n");
    }
    coverage(set, box_deg, first, last, arena, out);
    text_add(out, "    <maintenance>\n      <description>\n        <para>A new package is made when records are added; the keys of rows "
                  "stay.</para>\n"
                  "      </description>\n    </maintenance>\n");
    party(out, "contact", who);
    methods(set, out);
    text_add(out, "  </dataset>\n</eml:eml>\n");
}
