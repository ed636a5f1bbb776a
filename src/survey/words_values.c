/* SPDX-License-Identifier: GPL-3.0-or-later
 * What stands in cells: units, numbers with their marks, words for states in several languages, squares turned into dates. */
#include "survey/words.h"
#include <ctype.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

/* Factors are exact by definition (SI brochure; inch 25.4 mm; degree Fahrenheit), Langley left out. */
static const struct {
    const char *want, *unit, *spellings;
    double factor, offset;
} units[] = {
    {"cm", "mm", "mm|millimeter|millimetre|millimetres|millimetern", 0.1, 0},
    {"cm", "cm", "cm|centimeter|centimetre|centimetres|zentimeter", 1, 0},
    {"cm", "dm", "dm|decimetre|dezimeter", 10, 0},
    {"cm", "m", "m|meter|metre|metres|metern", 100, 0},
    {"cm", "in", "in|inch|inches", 2.54, 0},
    {"cm", "ft", "ft|feet|foot", 30.48, 0},
    {"mm", "mm", "mm|millimeter|millimetre|millimetres", 1, 0},
    {"mm", "cm", "cm|centimeter|centimetre|centimetres|zentimeter", 10, 0},
    {"mm", "m", "m|meter|metre|metres", 1000, 0},
    {"mm", "in", "in|inch|inches", 25.4, 0},
    {"mm", "L/m2", "l/m2|l/m\302\262", 1, 0},
    {"%", "%", "%|pct|percent|prozent|procent|pour cent|g/100g|g/100 g", 1, 0},
    {"%", "g/kg", "g/kg|g kg-1|g.kg-1|g kg|g*kg-1|mg/g|\342\200\260|promille", 0.1, 0},
    {"%", "mg/kg", "mg/kg|mg kg-1|ppm", 0.0001, 0},
    {"%", "share", "share|fraction|0-1", 100, 0},
    {"mg/kg", "mg/kg", "mg/kg|mg kg-1|ppm|mg kg", 1, 0},
    {"mg/kg", "g/kg", "g/kg|g kg-1", 1000, 0},
    {"mg/L", "mg/L", "mg/l|mg l-1|mg l", 1, 0},
    {"g/cm3", "g/cm3", "g/cm3|g/cm\302\263|g cm-3|g/cc|g cm3|g/ml|mg/m3", 1, 0},
    {"g/cm3", "t/m3", "t/m3|t/m\302\263|t m-3", 1, 0},
    {"g/cm3", "kg/m3", "kg/m3|kg/m\302\263|kg m-3", 0.001, 0},
    {"MPa", "MPa", "mpa|n/mm2", 1, 0},
    {"MPa", "kPa", "kpa", 0.001, 0},
    {"mm/h", "mm/h", "mm/h|mm h-1|mm/hr|mm h", 1, 0},
    {"mm/h", "cm/h", "cm/h", 10, 0},
    {"degC", "degC", "degc|\302\260c|c|celsius", 1, 0},
    {"degC", "degF", "degf|\302\260f|f|fahrenheit", 5.0 / 9.0, -160.0 / 9.0},
    {"degC", "0.1 degC", "0.1 degc|0.1 c|0.1 \302\260c", 0.1, 0},
    {"m/s", "m/s", "m/s|m s-1|m s", 1, 0},
    {"m/s", "km/h", "km/h|kmh|km h", 1 / 3.6, 0},
    {"MJ/m2", "MJ/m2", "mj/m2|mj/m\302\262|mj m-2|mj m2", 1, 0},
    {"MJ/m2", "J/cm2", "j/cm2|j/cm\302\262", 0.01, 0},
    {"MJ/m2", "W/m2", "w/m2|w/m\302\262|w m-2", 0.0864, 0},
    {"L/m2", "L/m2", "l/m2|l/m\302\262|litres/m2|mm", 1, 0},
    {"min", "min", "min|minutes|minuten|mins", 1, 0},
    {"min", "h", "h|hours|std|stunden|uren|heures", 60, 0},
    {"h", "h", "h|hours|std|stunden|uren|heures", 1, 0},
    {"h", "min", "min|minutes|minuten", 1.0 / 60.0, 0},
    {"m2", "m2", "m2|m\302\262|qm|sqm", 1, 0},
    {"m2", "cm2", "cm2|cm\302\262", 0.0001, 0},
};

static bool listed(const char *list, const char *word)
{
    size_t n = strlen(word);
    for (const char *p = list; *p != '\0';) {
        const char *end = strchr(p, '|');
        size_t m = end == NULL ? strlen(p) : (size_t)(end - p);
        if (m == n && strncasecmp(p, word, n) == 0)
            return true;
        p = end == NULL ? p + m : end + 1;
    }
    return false;
}

bool unit_find(const char *want, const char *spelling, const char **unit, double *factor, double *offset)
{
    for (size_t i = 0; want != NULL && spelling != NULL && i < sizeof units / sizeof *units; i++) {
        if (strcmp(units[i].want, want) != 0 || !(strcmp(units[i].unit, spelling) == 0 || listed(units[i].spellings, spelling)))
            continue;
        *unit = units[i].unit;
        *factor = units[i].factor;
        *offset = units[i].offset;
        return true;
    }
    return false;
}

const char *unit_choices(const char *want, const char *field)
{
    if (strcmp(field, "soc_pct") == 0 || strcmp(field, "total_n_pct") == 0)
        return "%|g/kg";
    static const struct {
        const char *want, *choices;
    } open[] = {{"cm", "mm|cm|m"},
                {"mm", "mm|cm|m"},
                {"MPa", "MPa|kPa"},
                {"g/cm3", "g/cm3|kg/m3"},
                {"degC", "degC|degF|0.1 degC"},
                {"m/s", "m/s|km/h"},
                {"MJ/m2", "MJ/m2|J/cm2|W/m2"}};
    for (size_t i = 0; i < sizeof open / sizeof *open; i++)
        if (strcmp(open[i].want, want) == 0)
            return open[i].choices;
    return NULL;
}

bool cell_says_nothing(const char *text)
{
    if (text_blank(text))
        return true;
    while (isspace((unsigned char)*text))
        text++;
    size_t n = strlen(text);
    while (n > 0 && isspace((unsigned char)text[n - 1]))
        n--;
    static const char *const nothing[] = {"na",           "n/a",          "n.a.", "nan", "null",   "none",   "-",  "--",
                                          "\342\200\223", "\342\200\224", "?",    ".",   "k.a.",   "k. a.",  "nd", "n.d.",
                                          "#n/a",         "#na",          "#nv",  "nvt", "n.v.t.", "(blank)"};
    for (size_t i = 0; i < sizeof nothing / sizeof *nothing; i++)
        if (n == strlen(nothing[i]) && strncasecmp(text, nothing[i], n) == 0)
            return true;
    return false;
}

char number_mark(const char *text)
{
    const char *dot = strrchr(text, '.'), *comma = strrchr(text, ',');
    if (dot == NULL && comma == NULL)
        return 0;
    for (const char *p = text; *p != '\0'; p++)
        if (!isdigit((unsigned char)*p) && strchr(".,+-< \302\240", *p) == NULL)
            return 0;
    if (dot != NULL && comma != NULL)
        return dot > comma ? '.' : ',';
    const char *mark = dot != NULL ? dot : comma;
    if (strchr(text, *mark) != mark)
        return *mark == '.' ? ',' : '.'; /* 1.234.567: the mark parts thousands */
    size_t behind = strspn(mark + 1, "0123456789"), ahead = 0;
    for (const char *p = mark; p > text && isdigit((unsigned char)p[-1]); p--)
        ahead++;
    if (behind == 3 && ahead >= 1 && ahead <= 3 && mark[-(ptrdiff_t)ahead] != '0')
        return 't';
    return *mark;
}

/* Digits of the number into `out`, with a point; false if the marks do not fit the decimal mark. */
static bool number_normal(const char *from, size_t n, char decimal, char *out)
{
    size_t at = 0, group = 0, marks = 0;
    char thousands = 0;
    bool seen_decimal = false;
    for (size_t i = 0; i < n; i++) {
        char c = from[i];
        if (isdigit((unsigned char)c) || ((c == '-' || c == '+') && at == 0)) {
            out[at++] = c;
            group++;
            continue;
        }
        if (seen_decimal)
            return false;
        if ((c == '.' || c == ',') && (c == decimal || decimal == 'b')) {
            if (thousands != 0 && group != 3)
                return false;
            out[at++] = '.';
            seen_decimal = true;
            group = 0;
            continue;
        }
        /* thousands: groups of three, one mark throughout */
        if (decimal == 'b' && c != ' ')
            return false;
        if ((thousands != 0 && (c != thousands || group != 3)) || (marks == 0 && (group == 0 || group > 4)))
            return false;
        thousands = c;
        marks++;
        group = 0;
    }
    out[at] = '\0';
    return thousands == 0 || seen_decimal || group == 3;
}

enum number_reading cell_number(const char *text, char decimal, double *value, const char **unit, struct arena *arena)
{
    if (unit != NULL)
        *unit = NULL;
    if (cell_says_nothing(text))
        return NUMBER_NONE;
    enum { LONGEST = 60 };
    char plain[LONGEST + 1], digits[LONGEST + 1];
    size_t n = 0;
    bool below = false;
    for (const char *p = text; *p != '\0'; p++) { /* blanks of every width become one */
        unsigned char c = (unsigned char)*p;
        bool blank = isspace(c);
        if (c == 0xC2 && (unsigned char)p[1] == 0xA0) {
            blank = true;
            p++;
        } else if (c == 0xE2 && (unsigned char)p[1] == 0x80 && ((unsigned char)p[2] == 0xAF || (unsigned char)p[2] == 0x89)) {
            blank = true;
            p += 2;
        } else if (c == 0xE2 && (unsigned char)p[1] == 0x88 && (unsigned char)p[2] == 0x92) { /* minus sign */
            c = '-';
            p += 2;
        }
        if (n >= LONGEST)
            return NUMBER_NOT;
        if (!blank)
            plain[n++] = (char)c;
        else if (n > 0 && plain[n - 1] != ' ')
            plain[n++] = ' ';
    }
    while (n > 0 && plain[n - 1] == ' ')
        n--;
    plain[n] = '\0';
    char *p = plain;
    static const char *const money[] = {"\342\202\254", "\302\243", "$", "EUR", "GBP", "CHF", "USD"};
    for (size_t i = 0; i < sizeof money / sizeof *money; i++)
        if (unit != NULL && strncmp(p, money[i], strlen(money[i])) == 0)
            for (p += strlen(money[i]); *p == ' ';)
                p++;
    if (*p == '<') {
        below = true;
        for (p++; *p == ' ';)
            p++;
    }
    if (number_read(p, value)) {
        char mark = number_mark(p);
        if (decimal == '.' || decimal == 'b' || mark == 0 || strchr(p, 'e') != NULL || strchr(p, 'E') != NULL)
            return below ? NUMBER_BELOW : NUMBER_READ;
    }
    size_t length = 0;
    while (p[length] != '\0' && (isdigit((unsigned char)p[length]) || strchr(".,+-'", p[length]) != NULL ||
                                 (p[length] == ' ' && isdigit((unsigned char)p[length + 1]))))
        length++;
    size_t rest = length;
    while (p[rest] == ' ')
        rest++;
    if (length == 0 || (p[rest] != '\0' && unit == NULL) || !number_normal(p, length, decimal == 0 ? '.' : decimal, digits) ||
        !number_read(digits, value))
        return NUMBER_NOT;
    if (p[rest] != '\0') {
        if (isdigit((unsigned char)p[rest]))
            return NUMBER_NOT;
        *unit = arena_text(arena, p + rest);
        for (size_t i = 0; i < sizeof money / sizeof *money; i++)
            if (strcmp(p + rest, money[i]) == 0)
                *unit = NULL;
    }
    return below ? NUMBER_BELOW : NUMBER_READ;
}

bool cell_was_date(const struct sheet_cell *cell, int *day, int *month)
{
    if (cell == NULL || text_blank(cell->text))
        return false;
    int year = 0;
    int32_t date = 0;
    char head[12] = "";
    strncpy(head, cell->text, 10);
    if (date_read(head, &date)) {
        date_parts(date, &year, month, day);
        return true;
    }
    /* "2-Jan", "02. Jan", "Jan-02" */
    char with_year[80];
    if (strlen(cell->text) > 40 || strpbrk(cell->text, "0123456789") == NULL)
        return false;
    bool letters = false;
    for (const char *p = cell->text; *p != '\0'; p++)
        letters = letters || isalpha((unsigned char)*p);
    if (!letters)
        return false;
    snprintf(with_year, sizeof with_year, "%s-2000", cell->text);
    struct date_read read = survey_date(with_year, DATE_ORDER_UNKNOWN);
    if (read.reading == DATE_CLEAR) {
        date_parts(read.date, &year, month, day);
        return true;
    }
    return false;
}

/* Words for the values of enums, folded. A heading marked ? needs to be there for the word to count (yes in "alive"). */
static const struct {
    int list;
    const char *value, *words;
} values[] = {
    {WORDS_STATUS, "alive",
     "alive|a|live|living|green|ok|healthy|good|present|vivant|vivante|vif|en "
     "vie|bon|lebend|lebendig|lebt|vital|gesund|levend|leeft|gezond|vivo|viva"},
    {WORDS_STATUS, "alive_dieback",
     "alive dieback|dieback|die back|alive with dieback|deperissant|deperissement|cime seche|ruckgang|zurucktrocknend|wipfeldurr|teilweise "
     "abgestorben|zopftrocken|topsterfte|kwijnend|declining"},
    {WORDS_STATUS, "resprouting",
     "resprouting|resprout|resprouted|resprout from base|rejet|rejets|repousse|stockausschlag|neuaustrieb|wiederaustrieb|treibt wieder "
     "aus|uitloper|hergroei|loopt weer uit"},
    {WORDS_STATUS, "dead_standing",
     "dead standing|dead|d|died|standing dead|mort|morte|mort sur pied|seche|tot|abgestorben|eingegangen|stehend "
     "tot|dood|afgestorven|muerto|muerta"},
    {WORDS_STATUS, "missing", "missing|gone|lost|absent|manquant|manquante|disparu|fehlt|fehlend|verschwunden|weg|verdwenen|ontbreekt"},
    {WORDS_STATUS, "not_found",
     "not found|nf|unfound|not located|introuvable|non trouve|pas trouve|non retrouve|nicht gefunden|nicht auffindbar|niet gevonden|niet "
     "teruggevonden"},
    {WORDS_STATUS, "removed", "removed|taken out|enleve|retire|arrache|entfernt|verwijderd|weggehaald"},
    {WORDS_STATUS, "replaced", "replaced|remplace|ersetzt|nachgepflanzt|vervangen|ingeboet"},
    {WORDS_TRUTH, "yes", "yes|y|true|oui|o|vrai|ja|j|wahr|waar|si|x"},
    {WORDS_TRUTH, "no", "no|n|false|non|faux|nein|falsch|nee|onwaar|0"},
    {WORDS_DAMAGE_AGENT, "none", "none|no damage|aucun|aucune|keine|kein|geen"},
    {WORDS_DAMAGE_AGENT, "drought", "drought|dry|secheresse|trockenheit|durre|trockenschaden|droogte"},
    {WORDS_DAMAGE_AGENT, "waterlogging", "waterlogging|wet|flooded|engorgement|staunasse|vernassung|wateroverlast"},
    {WORDS_DAMAGE_AGENT, "frost_salt", "frost salt|frost|salt|gel|sel|salz|streusalz|vorst|zout"},
    {WORDS_DAMAGE_AGENT, "wind", "wind|storm|vent|sturm|storm damage"},
    {WORDS_DAMAGE_AGENT, "browse_deer",
     "browse deer|deer|browsing|browsed|chevreuil|cerf|abroutissement|reh|rehverbiss|verbiss|wildverbiss|ree|wildvraat|vraat"},
    {WORDS_DAMAGE_AGENT, "browse_rabbit", "browse rabbit|rabbit|rabbits|hare|lapin|lievre|kaninchen|hase|konijn|haas"},
    {WORDS_DAMAGE_AGENT, "vole_bark", "vole bark|vole|voles|bark gnawing|campagnol|wuhlmaus|maus|mausefrass|woelmuis|muizen"},
    {WORDS_DAMAGE_AGENT, "insect", "insect|insects|insecte|insectes|insekt|insekten|insektenfrass"},
    {WORDS_DAMAGE_AGENT, "fungal", "fungal|fungus|mildew|champignon|oidium|pilz|mehltau|schimmel|meeldauw"},
    {WORDS_DAMAGE_AGENT, "mower_strimmer",
     "mower strimmer|mower|strimmer|mowing|tondeuse|debroussailleuse|maher|freischneider|mahschaden|maaier|bosmaaier|maaischade"},
    {WORDS_DAMAGE_AGENT, "vandal_snapped", "vandal snapped|snapped|broken|casse|abgebrochen|gebrochen|afgebroken|geknakt"},
    {WORDS_DAMAGE_AGENT, "vandal_pulled", "vandal pulled|pulled|pulled out|arrache par vandalisme|herausgerissen|ausgerissen|uitgetrokken"},
    {WORDS_DAMAGE_AGENT, "vandal_burnt", "vandal burnt|burnt|burned|fire|brule|verbrannt|feuer|verbrand|brand"},
    {WORDS_DAMAGE_AGENT, "trampling", "trampling|trampled|pietinement|zertreten|tritt|vertrapt"},
    {WORDS_DAMAGE_AGENT, "dog", "dog|chien|hund|hond"},
    {WORDS_DAMAGE_AGENT, "competition_shade",
     "competition shade|shade|competition|concurrence|ombre|konkurrenz|schatten|concurrentie|schaduw|suppressed"},
    {WORDS_DAMAGE_AGENT, "tag_damage", "tag damage|girdled by tag"},
    {WORDS_DAMAGE_AGENT, "damage_unlisted", "damage unlisted|unknown|other|autre|inconnu|unbekannt|sonstige|onbekend|anders"},
    {WORDS_DAMAGE_PART, "leaves", "leaves|leaf|feuilles|blatter|laub|blad|bladeren"},
    {WORDS_DAMAGE_PART, "shoots", "shoots|shoot|tip|leader|pousses|triebe|leittrieb|scheuten"},
    {WORDS_DAMAGE_PART, "stem", "stem|trunk|tige|tronc|stamm|stam"},
    {WORDS_DAMAGE_PART, "bark", "bark|ecorce|rinde|schors"},
    {WORDS_DAMAGE_PART, "roots", "roots|root|racines|wurzel|wurzeln|wortels"},
    {WORDS_DAMAGE_PART, "whole_plant", "whole plant|whole|all|plante entiere|ganze pflanze|hele plant"},
    {WORDS_DIAMETER_HEIGHT, "root_collar", "root collar|collar|rcd|collet|wurzelhals|wortelhals"},
    {WORDS_DIAMETER_HEIGHT, "at_10_cm", "at 10 cm|10 cm|10cm|d10"},
    {WORDS_DIAMETER_HEIGHT, "breast_height", "breast height|dbh|1 3 m|1 3m|130 cm|dhp|bhd|brusthohe|borsthoogte"},
    {WORDS_PH_METHOD, "water", "water|h2o|eau|wasser|ph h2o"},
    {WORDS_PH_METHOD, "calcium_chloride", "calcium chloride|cacl2|ph cacl2|calciumchlorid|chlorure de calcium"},
    {WORDS_PH_METHOD, "potassium_chloride", "potassium chloride|kcl|ph kcl|kaliumchlorid"},
    {WORDS_CARBON_METHOD, "dry_combustion",
     "dry combustion|combustion|elemental analyser|cn analyser|combustion seche|trockene verbrennung|elementaranalyse|droge verbranding"},
    {WORDS_CARBON_METHOD, "loss_on_ignition", "loss on ignition|loi|perte au feu|gluhverlust|gloeiverlies"},
    {WORDS_CARBON_METHOD, "wet_oxidation", "wet oxidation|walkley black|nasse oxidation|natte oxidatie"},
    {WORDS_TIME_POINT, "before_works", "before works|t 1|t1 before|before|baseline|avant travaux|vor den arbeiten|voor de werken"},
    {WORDS_TIME_POINT, "after_amendment", "after amendment|t0b|after works|apres amendement|nach der einarbeitung|na bewerking"},
    {WORDS_TIME_POINT, "as_planted", "as planted|t0"},
    {WORDS_TIME_POINT, "follow_up", "follow up|followup|suivi|folge|wiederholung|vervolg"},
    {WORDS_TEXTURE, "sand", "sand|sable|zand"},
    {WORDS_TEXTURE, "loamy_sand", "loamy sand|sable limoneux|lehmiger sand|lemig zand"},
    {WORDS_TEXTURE, "sandy_loam", "sandy loam|limon sableux|sandiger lehm|zandige leem"},
    {WORDS_TEXTURE, "loam", "loam|limon|lehm|leem"},
    {WORDS_TEXTURE, "silt_loam", "silt loam|schlufflehm"},
    {WORDS_TEXTURE, "silt", "silt|schluff"},
    {WORDS_TEXTURE, "sandy_clay_loam", "sandy clay loam"},
    {WORDS_TEXTURE, "clay_loam", "clay loam|limon argileux|toniger lehm"},
    {WORDS_TEXTURE, "silty_clay_loam", "silty clay loam"},
    {WORDS_TEXTURE, "sandy_clay", "sandy clay"},
    {WORDS_TEXTURE, "silty_clay", "silty clay|argile limoneuse|schluffiger ton"},
    {WORDS_TEXTURE, "clay", "clay|argile|ton|klei"},
    {WORDS_CARE_KIND, "watering", "watering|watered|arrosage|bewasserung|giessen|wassern|water geven|bewatering"},
    {WORDS_CARE_KIND, "weeding", "weeding|weeded|desherbage|jaten|unkraut|wieden|onkruid"},
    {WORDS_CARE_KIND, "mulching", "mulching|mulch|paillage|mulchen|mulchlaag"},
    {WORDS_CARE_KIND, "firming", "firming|firm in|tassement|festtreten|antreten|aandrukken"},
    {WORDS_CARE_KIND, "fence_check", "fence check|fence|cloture|zaunkontrolle|zaun|hek|omheining"},
    {WORDS_CARE_KIND, "litter", "litter|litter pick|dechets|mull|abfall|zwerfvuil"},
    {WORDS_CARE_KIND, "pruning", "pruning|taille|schnitt|snoeien"},
    {WORDS_CARE_KIND, "replacement_planting", "replacement planting|beating up|replanting|regarnis|nachpflanzung|inboeten"},
    {WORDS_CARE_KIND, "inspection", "inspection|check|walk|controle|kontrolle|begehung|inspectie"},
    {WORDS_CARE_KIND, "other_care", "other care|other|autre|sonstiges|overig"},
    {WORDS_DONE_STATE, "done", "done|yes|complete|fait|erledigt|gedaan|ja|oui"},
    {WORDS_DONE_STATE, "partly", "partly|partial|partiel|teilweise|deels|gedeeltelijk"},
    {WORDS_DONE_STATE, "skipped", "skipped|not done|no|non fait|ausgelassen|nicht erledigt|overgeslagen|nein|nee|non"},
    {WORDS_PHASE_STATE, "not_yet", "not yet|no|n|none|pas encore|non|noch nicht|nein|nog niet|nee|0"},
    {WORDS_PHASE_STATE, "reached", "reached|yes|y|x|open|atteint|oui|erreicht|ja|bereikt|1"},
    {WORDS_PHASE_STATE, "already_over", "already over|already|over|past|deja|passe|schon vorbei|vorbei|al voorbij"},
    {WORDS_INCIDENT_KIND, "vandalism", "vandalism|vandals|vandalisme|vandalismus"},
    {WORDS_INCIDENT_KIND, "fire", "fire|feu|incendie|feuer|brand"},
    {WORDS_INCIDENT_KIND, "mowing", "mowing|mower|strimmer|tonte|mahen|maaien"},
    {WORDS_INCIDENT_KIND, "browsing", "browsing|rabbits|deer|abroutissement|verbiss|vraat"},
    {WORDS_INCIDENT_KIND, "flooding", "flooding|flood|inondation|uberschwemmung|overstroming"},
    {WORDS_INCIDENT_KIND, "drought_loss", "drought loss|drought|secheresse|durre|trockenheit|droogte"},
    {WORDS_INCIDENT_KIND, "accident", "accident|injury|tick|tick bite|sting|blessure|unfall|ongeval"},
    {WORDS_INCIDENT_KIND, "near_miss", "near miss|presque accident|beinaheunfall|bijna ongeval"},
    {WORDS_INCIDENT_KIND, "found_object", "found object|sharps|needles|glass|asbestos|objet trouve|fund|vondst"},
    {WORDS_INCIDENT_KIND, "service_found", "service found|cable|pipe|cable trouve|leitung|kabel|leiding"},
    {WORDS_INCIDENT_KIND, "theft", "theft|stolen|vol|diebstahl|diefstal"},
    {WORDS_INCIDENT_KIND, "other_incident", "other incident|other|autre|sonstiges|overig"},
    {WORDS_COST_PHASE, "screening", "screening|screen"},
    {WORDS_COST_PHASE, "consent", "consent|permit|permission|autorisation|genehmigung|vergunning"},
    {WORDS_COST_PHASE, "survey", "survey|releve|untersuchung|onderzoek"},
    {WORDS_COST_PHASE, "design", "design|conception|planung|ontwerp"},
    {WORDS_COST_PHASE, "preparation", "preparation|prep|soil preparation|ground works|bodenvorbereitung|grondbewerking|preparation du sol"},
    {WORDS_COST_PHASE, "plants", "plants|planting stock|plants purchase|pflanzen|pflanzgut|plantgoed|plantmateriaal"},
    {WORDS_COST_PHASE, "planting", "planting|plantation|pflanzung|planten|aanplant"},
    {WORDS_COST_PHASE, "protection", "protection|fence|fencing|cloture|zaun|schutz|bescherming|hek"},
    {WORDS_COST_PHASE, "watering", "watering|arrosage|bewasserung|bewatering"},
    {WORDS_COST_PHASE, "weeding", "weeding|desherbage|unkraut|jaten|onkruid"},
    {WORDS_COST_PHASE, "replacement", "replacement|replacements|remplacement|ersatz|nachpflanzung|vervanging|inboet"},
    {WORDS_COST_PHASE, "incident", "incident|vandalism|vandalisme|vorfall|schaden|incidenten"},
    {WORDS_COST_PHASE, "monitoring", "monitoring|suivi|erfolgskontrolle"},
    {WORDS_COST_PHASE, "management", "management|gestion|verwaltung|beheer|pflege"},
    {WORDS_COST_PHASE, "reporting", "reporting|report|rapport|bericht"},
    {WORDS_COST_PHASE, "overhead", "overhead|overheads|frais generaux|gemeinkosten"},
    {WORDS_WILDLIFE_GROUP, "flower_visitors", "flower visitors|pollinators|pollinisateurs|bestauber|blutenbesucher|bestuivers|bees"},
    {WORDS_WILDLIFE_GROUP, "butterflies", "butterflies|papillons|schmetterlinge|tagfalter|vlinders"},
    {WORDS_WILDLIFE_GROUP, "ground_invertebrates", "ground invertebrates|ground beetles|pitfall|carabes|laufkafer|loopkevers"},
    {WORDS_WILDLIFE_GROUP, "foliage_invertebrates", "foliage invertebrates|beating|sweeping|klopfprobe"},
    {WORDS_WILDLIFE_GROUP, "birds", "birds|bird|oiseaux|vogel|vogels"},
    {WORDS_WILDLIFE_GROUP, "bats", "bats|bat|chauves souris|fledermause|vleermuizen"},
    {WORDS_WILDLIFE_GROUP, "small_mammals", "small mammals|mammals|petits mammiferes|kleinsauger|zoogdieren|hedgehog"},
    {WORDS_WILDLIFE_GROUP, "litter_animals",
     "litter animals|litter|litter invertebrates|litiere|streutiere|strooisel|woodlice|hand search"},
    {WORDS_WILDLIFE_GROUP, "field_layer", "field layer|plants|vegetation|flora|krautschicht|kruidlaag"},
    {WORDS_WILDLIFE_GROUP, "fungi", "fungi|fungus|champignons|pilze|paddenstoelen"},
    {WORDS_WILDLIFE_GROUP, "phenology", "phenology|phenologie|fenologie"},
    {WORDS_WILDLIFE_GROUP, "other_group", "other group|other|autre|sonstige|overig"},
};

static bool heading_asks(const char *heading, const char *words)
{
    return heading != NULL && listed(words, heading);
}

int cell_word_find(enum word_list list, const char *folded, const char *folded_heading)
{
    if (list == WORDS_STATUS) { /* yes and no mean something only under "alive?" or "dead?" */
        bool alive =
            heading_asks(folded_heading, "alive|live|living|survived|vivant|en vie|lebt|lebend|levend|leeft|alive y n|alive yes no");
        bool dead = heading_asks(folded_heading, "dead|mort|tot|dood|died");
        int yes = listed("1", folded) ? 2 : listed("0", folded) ? 1 : cell_word_find(WORDS_TRUTH, folded, NULL);
        if ((alive || dead) && yes > 0)
            return (yes == 2) == alive ? STATUS_ALIVE : STATUS_DEAD_STANDING;
    }
    if (list == WORDS_TRUTH && strcmp(folded, "1") == 0)
        return word_find(list, "yes");
    for (size_t i = 0; i < sizeof values / sizeof *values; i++)
        if (values[i].list == (int)list && listed(values[i].words, folded))
            return word_find(list, values[i].value);
    char copy[64];
    snprintf(copy, sizeof copy, "%s", folded);
    for (char *p = copy; *p != '\0'; p++)
        *p = *p == ' ' ? '_' : *p;
    int value = word_find(list, copy);
    return value > 0 ? value : -1;
}
