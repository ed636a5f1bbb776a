/* SPDX-License-Identifier: GPL-3.0-or-later
 * Headings of columns in English, French, German and Dutch. The lists are common practice, no source: words met in the
 * trade's spreadsheets. A heading only makes a guess, which the mapping shows and the user can change. */
#include "survey/words.h"
#include <ctype.h>
#include <stdlib.h>
#include <string.h>
#include <utf8proc.h>

char *text_fold(const char *text, struct arena *arena)
{
    utf8proc_uint8_t *mapped = NULL;
    utf8proc_ssize_t n = utf8proc_map((const utf8proc_uint8_t *)text, 0, &mapped,
                                      UTF8PROC_NULLTERM | UTF8PROC_DECOMPOSE | UTF8PROC_COMPAT | UTF8PROC_STRIPMARK | UTF8PROC_CASEFOLD);
    const char *from = n < 0 ? text : (const char *)mapped;
    char *out = arena_alloc(arena, strlen(from) + 1);
    size_t at = 0;
    for (const char *p = from; *p != '\0'; p++) {
        unsigned char c = (unsigned char)*p;
        if (isalnum(c) || c >= 0x80)
            out[at++] = (char)tolower(c);
        else if (at > 0 && out[at - 1] != ' ')
            out[at++] = ' ';
    }
    while (at > 0 && out[at - 1] == ' ')
        at--;
    out[at] = '\0';
    free(mapped);
    return out;
}

#define P (1u << RECORD_PLANTS)
#define W (1u << RECORD_WILDLIFE)
#define S (1u << RECORD_SOIL)
#define D (1u << RECORD_WEATHER)
#define C (1u << RECORD_COSTS)
#define A (1u << RECORD_CARE)
#define H (1u << RECORD_HOURS)
#define F (1u << RECORD_PHENOLOGY)
#define I (1u << RECORD_INCIDENTS)

#define DATE_HEADINGS                                                                                                                      \
    "date|day|datum|tag der aufnahme|aufnahmedatum|date de releve|jour|dag|opnamedatum|visit date|survey date|measured|recorded on|seen "  \
    "on"
#define NOTE_HEADINGS                                                                                                                      \
    "note|notes|remark|remarks|comment|comments|remarque|remarques|commentaire|bemerkung|bemerkungen|anmerkung|notiz|opmerking|"           \
    "opmerkingen"
#define OBSERVER_HEADINGS                                                                                                                  \
    "observer|observers|recorder|recorded "                                                                                                \
    "by|surveyor|volunteer|observateur|releveur|beobachter|bearbeiter|erfasser|waarnemer|opnemer|who|initials"

const struct field_words import_field_words[] = {
    {P | W | S | D | C | A | H | F | I,
     {"site", "Site", "", true},
     NULL,
     "site|site code|location|area|treatment|lieu|secteur|standort|flache|gebiet|fundort|locatie|terrein|zone name"},
    {P | W | S | C | A | H | F | I,
     {"plot", "Plot", "", true},
     NULL,
     "plot|plot id|plot code|plot no|parcelle|placette|parzelle|versuchsflache|probeflache|perceel|proefvlak|vak"},
    {P | F,
     {"cell", "Square", "", true},
     NULL,
     "cell|square|grid|quadrat|carre|maille|case|quadrant|rasterfeld|feld|quadratmeter|zelle|raster|hok|hokje|cel"},
    {P | F,
     {"number", "Number in the square", "", true},
     NULL,
     "number|no|nr|num|plant no|plant number|tree|tree no|tree number|numero|arbre|baum|baumnummer|baum "
     "nr|pflanze|pflanzennummer|boom|boomnummer|plantnummer|position"},
    {P | F,
     {"tag", "Label", "", true},
     NULL,
     "tag|tag no|tag number|label|etiquette|marque|etikett|etikettnummer|marke|schild|plaatje|merk|plant id|tree id|id"},
    {P,
     {"species", "Species", "", false},
     "species_seen",
     "species|species name|taxon|scientific name|name|espece|essence|nom scientifique|art|baumart|gehoelz|geholz|wissenschaftlicher "
     "name|soort|boomsoort|soortnaam|latin name"},
    {P, {"observed_on", "Day", "", false}, "observed_on", DATE_HEADINGS "|census|observed on"},
    {P | F, {"observer", "Observer", "", false}, "observer", OBSERVER_HEADINGS},
    {P,
     {"status", "State", "", false},
     "status",
     "status|state|condition|alive|alive "
     "dead|live|living|survival|survived|dead|etat|vivant|survie|mort|zustand|lebend|lebt|vital|vitalitat|tot|toestand|levend|leeft|dood"},
    {P,
     {"height_cm", "Height", "cm", false},
     "height_cm",
     "height|ht|h|total height|plant height|tree height|hauteur|haut|hohe|hoehe|wuchshohe|pflanzenhohe|baumhohe|hoogte|lengte|boomhoogte"},
    {P,
     {"diameter_mm", "Diameter", "mm", false},
     "diameter_mm",
     "diameter|diam|dia|d|rcd|root collar diameter|collar diameter|collar|stem diameter|dbh|diametre|diametre au "
     "collet|collet|dhp|durchmesser|wurzelhalsdurchmesser|whd|bhd|dicke|diameter wortelhals|wortelhals|stamdiameter|dikte"},
    {P,
     {"diameter_at", "Where the diameter was taken", "", false},
     "diameter_at",
     "diameter at|measured at|diameter height|point of measurement|messhohe|hauteur de mesure|meethoogte"},
    {P,
     {"crown_cm", "Crown width", "cm", false},
     "crown_cm",
     "crown|crown width|crown diameter|spread|houppier|couronne|krone|kronenbreite|kronendurchmesser|kroon|kroonbreedte"},
    {P,
     {"damage", "Damage", "", false},
     "damage",
     "damage|damage cause|cause|damage agent|degat|degats|dommage|schaden|schadursache|schade|schadeoorzaak|injury"},
    {P, {"damage_part", "Part damaged", "", false}, "damage_part", "damage part|part|partie|pflanzenteil|schadteil|deel"},
    {P, {"damage_pct", "How much", "%", false}, "damage_pct", "damage pct|damage percent|severity|severite|schadensgrad|schadgrad|ernst"},
    {P,
     {"repeat", "Second measurement", "", false},
     "repeat",
     "repeat|remeasure|re measure|blind|second|repetition|wiederholung|kontrollmessung|herhaling"},
    {P, {"latitude", "Latitude", "", true}, NULL, "latitude|lat|breite|breitengrad|breedte|breedtegraad|y"},
    {P, {"longitude", "Longitude", "", true}, NULL, "longitude|lon|long|lng|lange|langengrad|lengtegraad|x"},
    {P | W | S | A | H | F, {"note", "Note", "", false}, "note", NOTE_HEADINGS},

    {W, {"seen_on", "Day", "", false}, "seen_on", DATE_HEADINGS},
    {W, {"group", "Group looked for", "", false}, "group", "group|taxon group|groupe|gruppe|artengruppe|groep|soortgroep"},
    {W, {"protocol", "How", "", false}, "protocol", "protocol|method|methode|protocole|verfahren|werkwijze"},
    {W, {"minutes", "Time spent looking", "min", false}, "minutes", "minutes|min|duration|time spent|duree|dauer|minuten|duur"},
    {W, {"effort_value", "Effort", "", false}, "effort_value", "effort|effort value|beats|trap days|trap nights|aufwand|inspanning"},
    {W,
     {"effort_unit", "Unit of the effort", "", false},
     "effort_unit",
     "effort unit|unit of effort|unite d effort|aufwandseinheit|eenheid inspanning"},
    {W, {"area_m2", "Area looked over", "m2", false}, "area_m2", "area m2|area|surface|flache m2|oppervlakte"},
    {W, {"observers", "Observers", "", false}, "observers", OBSERVER_HEADINGS},
    {W, {"flowers", "Flowers in bloom", "", false}, "flowers", "flowers|flower count|open flowers|fleurs|bluten|bloemen"},
    {W, {"weather", "Weather", "", false}, "weather", "weather|meteo|temps|wetter|weer"},
    {W,
     {"nothing_seen", "Nothing seen", "", false},
     "nothing_seen",
     "nothing seen|zero|none seen|rien vu|nichts gesehen|null|niets gezien"},
    {W, {"taxon", "Taxon", "", false}, "taxon", "taxon|species|animal|espece|art|tierart|soort|name|scientific name"},
    {W, {"count", "Individuals", "", false}, "count", "count|number|n|individuals|abundance|nombre|effectif|anzahl|individuen|aantal"},
    {W, {"sensitive", "Place to be blurred", "", false}, "sensitive", "sensitive|sensible|confidential|vertraulich|gevoelig"},

    {S,
     {"composite", "Composite", "", false},
     "composite",
     "composite|sample|sample id|point|pit|echantillon|probe|probe nr|mischprobe|monster|mengmonster|label"},
    {S, {"soil_zone", "Soil zone", "", false}, "zone", "zone|soil zone|bodenzone|zone de sol"},
    {S, {"time_point", "Time point", "", false}, "time_point", "time point|timepoint|phase|zeitpunkt|moment|period"},
    {S, {"sampled_on", "Day", "", false}, "sampled_on", DATE_HEADINGS "|sampled|sampled on|sampling date|probenahme|entnahmedatum"},
    {S,
     {"depth_top_cm", "From depth", "cm", false},
     "depth_top_cm",
     "depth top|top|from|depth from|upper|prof sup|von|tiefe von|obergrenze|van|diepte van|depth top cm"},
    {S,
     {"depth_bottom_cm", "To depth", "cm", false},
     "depth_bottom_cm",
     "depth bottom|bottom|to|depth to|lower|prof inf|bis|tiefe bis|untergrenze|tot|diepte tot"},
    {S, {"sand_pct", "Sand", "%", false}, "sand_pct", "sand|sable|zand"},
    {S, {"silt_pct", "Silt", "%", false}, "silt_pct", "silt|limon|schluff|leem"},
    {S, {"clay_pct", "Clay", "%", false}, "clay_pct", "clay|argile|ton|klei|lutum"},
    {S, {"texture", "Texture class", "", false}, "texture", "texture|texture class|bodenart|textuur"},
    {S,
     {"bulk_density_g_cm3", "Bulk density", "g/cm3", false},
     "bulk_density_g_cm3",
     "bulk density|bd|density|densite apparente|masse volumique|lagerungsdichte|trockenrohdichte|rohdichte|dichtheid|bulkdichtheid"},
    {S,
     {"stones_pct", "Stones", "%", false},
     "stones_pct",
     "stones|stone content|coarse fragments|cailloux|pierrosite|steine|steingehalt|skelett|stenen"},
    {S, {"ph", "pH", "", false}, "ph", "ph|ph value|ph wert|ph h2o|ph water|ph cacl2|ph kcl|ph eau|ph wasser"},
    {S, {"ph_method", "How pH was measured", "", false}, "ph_method", "ph method|ph methode|ph solution|ph in"},
    {S,
     {"soc_pct", "Organic carbon", "%", false},
     "soc_pct",
     "soc|organic carbon|corg|c org|toc|carbone organique|organischer kohlenstoff|kohlenstoff|organische koolstof|carbon"},
    {S, {"carbon_method", "How carbon was found", "", false}, "carbon_method", "carbon method|c method|methode carbone|kohlenstoffmethode"},
    {S,
     {"loi_pct", "Loss on ignition", "%", false},
     "loi_pct",
     "loi|loss on ignition|perte au feu|gluhverlust|gloeiverlies|organic matter|om|matiere organique|organische substanz|organische stof"},
    {S,
     {"total_n_pct", "Total nitrogen", "%", false},
     "total_n_pct",
     "total n|n|nitrogen|tn|n total|azote|azote total|stickstoff|gesamtstickstoff|nges|stikstof|n totaal"},
    {S, {"olsen_p_mg_l", "Available phosphorus", "mg/L", false}, "olsen_p_mg_l", "olsen p|p|phosphorus|phosphore|phosphor|fosfor"},
    {S, {"lead_mg_kg", "Lead", "mg/kg", false}, "lead_mg_kg", "lead|pb|plomb|blei|lood"},
    {S,
     {"penetration_mpa", "Penetration resistance", "MPa", false},
     "penetration_mpa",
     "penetration|penetration resistance|resistance|penetrometre|eindringwiderstand|indringingsweerstand"},
    {S, {"infiltration_mm_h", "Infiltration", "mm/h", false}, "infiltration_mm_h", "infiltration|infiltratie|versickerung|percolation"},
    {S, {"earthworms", "Earthworms", "", false}, "earthworms", "earthworms|worms|vers de terre|lombrics|regenwurmer|regenwormen"},
    {S,
     {"near_field_capacity", "Whether the ground was near field capacity", "", false},
     "near_field_capacity",
     "near field capacity|field capacity|moist|capacite au champ|feldkapazitat|nahe feldkapazitat|veldcapaciteit"},
    {S, {"mottles", "Grey and orange spots", "", false}, "mottles", "mottles|mottling|gley|taches|rostflecken|vlekken"},
    {S,
     {"made_ground_pct", "Brick, ash, glass", "%", false},
     "made_ground_pct",
     "made ground|rubble|artefacts|remblai|bauschutt|technogene|puin"},
    {S,
     {"water_table_cm", "Depth of standing water", "cm", false},
     "water_table_cm",
     "water table|standing water|nappe|grundwasser|grundwasserstand|grondwater|grondwaterstand"},
    {S, {"refusal_cm", "Depth of refusal", "cm", false}, "refusal_cm", "refusal|refusal depth|refus|bohrhindernis"},

    {D, {"day", "Day", "", false}, "day", DATE_HEADINGS "|yyyymmdd|messdatum"},
    {D,
     {"rain_mm", "Rain", "mm", false},
     "rain_mm",
     "rain|rainfall|precipitation|precip|pluie|precipitations|niederschlag|regen|neerslag|rr|rh"},
    {D,
     {"t_min_c", "Lowest temperature", "degC", false},
     "t_min_c",
     "tmin|t min|minimum temperature|temp min|temperature min|tiefsttemperatur|minimumtemperatuur|tn"},
    {D,
     {"t_max_c", "Highest temperature", "degC", false},
     "t_max_c",
     "tmax|t max|maximum temperature|temp max|temperature max|hochsttemperatur|maximumtemperatuur|tx"},
    {D,
     {"humidity_pct", "Relative humidity", "%", false},
     "humidity_pct",
     "humidity|relative humidity|rel humidity|humidite|luftfeuchte|relative feuchte|luchtvochtigheid|rhmean"},
    {D, {"wind_m_s", "Wind", "m/s", false}, "wind_m_s", "wind|wind speed|vent|vitesse du vent|windgeschwindigkeit|windsnelheid"},
    {D,
     {"radiation_mj_m2", "Global radiation", "MJ/m2", false},
     "radiation_mj_m2",
     "radiation|solar|global radiation|rayonnement|globalstrahlung|strahlung|straling"},
    {D, {"source", "Station", "", false}, "source", "station|source|gauge|messstation|weerstation"},

    {C, {"phase", "Phase", "", false}, "phase", "phase|category|poste|kategorie|kostenart|fase|categorie"},
    {C,
     {"item", "Item", "", false},
     "item",
     "item|description|what|article|designation|libelle|beschreibung|leistung|posten|gegenstand|omschrijving|artikel"},
    {C, {"paid_on", "Day", "", false}, "paid_on", DATE_HEADINGS "|paid|invoice date|rechnungsdatum|date de facture|factuurdatum"},
    {C, {"quantity", "Quantity", "", false}, "quantity", "quantity|qty|quantite|qte|menge|anzahl|aantal|hoeveelheid"},
    {C, {"unit", "Unit", "", false}, "unit", "unit|unite|einheit|eenheid"},
    {C,
     {"unit_price", "Price of one", "", false},
     "unit_price",
     "unit price|price|rate|prix unitaire|prix|einzelpreis|preis|stuckpreis|prijs|eenheidsprijs|stukprijs"},
    {C,
     {"amount", "Amount", "", false},
     "amount",
     "amount|total|cost|sum|net|gross|montant|total ht|total ttc|betrag|summe|netto|brutto|gesamt|kosten|bedrag|totaal"},
    {C, {"tax_pct", "Tax rate", "%", false}, "tax_pct", "tax|vat|tax rate|vat rate|tva|taux tva|mwst|ust|steuersatz|btw|btw tarief"},
    {C, {"in_kind", "Given, not paid", "", false}, "in_kind", "in kind|donated|en nature|sachleistung|gespendet|in natura"},
    {C, {"estimate", "Budget, not spent", "", false}, "estimate", "estimate|budget|planned|prevision|schatzung|geplant|raming|begroting"},
    {C, {"payer", "Who pays", "", false}, "payer", "payer|paid by|funder|payeur|financeur|kostentrager|zahler|betaler|betaald door"},
    {C,
     {"reference", "Invoice", "", false},
     "reference",
     "reference|invoice|invoice no|ref|facture|rechnung|rechnungsnummer|beleg|factuur|factuurnummer"},

    {A, {"done_on", "Day", "", false}, "done_on", DATE_HEADINGS "|done on|done"},
    {A,
     {"care", "What was done", "", false},
     "kind",
     "kind|task|work|care|activity|tache|travaux|operation|arbeit|tatigkeit|massnahme|pflege|werk|werkzaamheid|taak|handeling"},
    {A, {"state", "Done, partly, skipped", "", false}, "state", "state|status|done state|etat|stand|erledigt|toestand|gedaan|fait"},
    {A, {"litres_m2", "Water", "L/m2", false}, "litres_m2", "litres m2|water|litres|l m2|eau|wasser|wassermenge|liter"},
    {A | H, {"hours", "Hours", "h", false}, "hours", "hours|h|time|heures|stunden|std|uren|person hours|total hours"},
    {A, {"who", "Who", "", false}, "who", "who|team|by|qui|equipe|wer|trupp|wie|ploeg"},
    {A, {"why", "Why not", "", false}, "why", "why|reason|raison|pourquoi|grund|warum|reden|waarom"},

    {F, {"seen_on", "Day", "", false}, "seen_on", DATE_HEADINGS},
    {F,
     {"phase", "Growth stage (BBCH)", "", false},
     "phase",
     "phase|bbch|bbch code|growth stage|stage|stade|stade bbch|entwicklungsstadium|stadium|fenofase|phenophase"},
    {F,
     {"state", "Not yet, reached, over", "", false},
     "state",
     "state|status|seen|reached|reached y n|etat|stand|erreicht|toestand|bereikt|atteint"},

    {I, {"happened_on", "Day", "", false}, "happened_on", DATE_HEADINGS "|happened on|night of"},
    {I, {"incident", "What kind", "", false}, "kind", "kind|incident|type|what kind|nature|art|vorfall|ereignis|soort|voorval"},
    {I, {"plants", "Plants touched", "", false}, "plants", "plants|plants touched|number of plants|plantes|pflanzen|planten"},
    {I, {"words", "What happened", "", false}, "words", "words|what happened|description|details|note|recit|beschreibung|omschrijving"},
    {I, {"reference", "Reference", "", false}, "reference", "reference|ref|police reference|report no|aktenzeichen|dossier"},

    {H, {"worked_on", "Day", "", false}, "worked_on", DATE_HEADINGS},
    {H, {"task", "Task", "", false}, "task", "task|work|activity|tache|activite|arbeit|tatigkeit|aufgabe|taak|werk"},
    {H,
     {"people", "People", "", false},
     "people",
     "people|persons|participants|volunteers|number of people|personnes|personen|teilnehmer|helfer|deelnemers|vrijwilligers"},
    {H, {"volunteer", "Volunteer", "", false}, "volunteer", "volunteer|paid or volunteer|benevole|ehrenamtlich|vrijwillig"},
};
const size_t n_import_field_words = sizeof import_field_words / sizeof *import_field_words;
#undef P
#undef W
#undef S
#undef D
#undef C
#undef A
#undef H
#undef F
#undef I

const struct field_words *field_words_find(enum record_kind kind, const char *name)
{
    for (size_t i = 0; i < n_import_field_words; i++)
        if ((import_field_words[i].kinds & (1u << kind)) != 0 && strcmp(import_field_words[i].field.name, name) == 0)
            return &import_field_words[i];
    return NULL;
}

static const char *const kind_words[RECORD_KINDS] = {"plants", "wildlife", "soil",      "weather",  "costs",
                                                     "care",   "hours",    "phenology", "incidents"};

const char *record_kind_word(enum record_kind kind)
{
    return (unsigned)kind < RECORD_KINDS ? kind_words[kind] : "unknown";
}

int record_kind_find(const char *word)
{
    for (int i = 0; i < RECORD_KINDS; i++)
        if (text_same(kind_words[i], word))
            return i;
    return -1;
}

enum noun record_noun(enum record_kind kind)
{
    static const enum noun nouns[RECORD_KINDS] = {NOUN_PLANT_RECORD, NOUN_WILDLIFE_RECORD,  NOUN_SOIL_SAMPLE,
                                                  NOUN_WEATHER_DAY,  NOUN_COST_ITEM,        NOUN_CARE_EVENT,
                                                  NOUN_WORK_HOURS,   NOUN_PHENOLOGY_RECORD, NOUN_INCIDENT};
    return nouns[kind];
}

const struct import_field *import_fields(enum record_kind kind, struct arena *arena, size_t *n)
{
    struct import_field *fields = arena_array(arena, n_import_field_words, sizeof *fields);
    *n = 0;
    for (size_t i = 0; i < n_import_field_words; i++)
        if ((import_field_words[i].kinds & (1u << kind)) != 0)
            fields[(*n)++] = import_field_words[i].field;
    return fields;
}

/* "height_cm" and "height cm" are the same heading. */
static bool own_name(const char *name, const char *folded)
{
    for (; *name != '\0' && *folded != '\0'; name++, folded++)
        if (*name != *folded && !(*name == '_' && *folded == ' '))
            return false;
    return *name == *folded;
}

int heading_score(const struct field_words *words, const char *folded)
{
    if (folded[0] == '\0')
        return 0;
    if (own_name(words->field.name, folded))
        return 110;
    int best = 0;
    size_t n = strlen(folded);
    for (const char *p = words->headings; *p != '\0';) {
        const char *end = strchr(p, '|');
        size_t m = end == NULL ? strlen(p) : (size_t)(end - p);
        int score = 0;
        if (m == n && strncmp(p, folded, n) == 0) {
            score = 100;
        } else if (m >= 3) { /* the word stands in the heading, whole */
            for (const char *found = folded; *found != '\0'; found++)
                if (strncmp(found, p, m) == 0 && (found == folded || found[-1] == ' ') && (found[m] == '\0' || found[m] == ' '))
                    score = 40 + (int)(40 * m / n);
            if (score == 0 && m >= 6 && n >= 6 && n < 40 && m < 40) {
                char one[48];
                memcpy(one, p, m);
                one[m] = '\0';
                if (text_distance(one, folded, 1) == 1)
                    score = 60;
            }
        }
        best = score > best ? score : best;
        p = end == NULL ? p + m : end + 1;
    }
    return best;
}
