# SPDX-License-Identifier: GPL-3.0-or-later
# A CSV as a spreadsheet file (ECMA-376, least parts, text in place), headings renamed: table_xlsx.py IN.csv OUT.xlsx NEW=OLD ...
import csv
import sys
import zipfile
from xml.sax.saxutils import escape

renamed = dict(reversed(pair.split("=")) for pair in sys.argv[3:])
rows = list(csv.reader(open(sys.argv[1])))
rows[0] = [renamed.get(h, h) for h in rows[0]]


def column(i):
    return (chr(64 + i // 26) if i >= 26 else "") + chr(65 + i % 26)


def cell(r, c, text):
    place = f"{column(c)}{r + 1}"
    try:
        float(text)
        return f'<c r="{place}"><v>{text}</v></c>'
    except ValueError:
        return f'<c r="{place}" t="inlineStr"><is><t>{escape(text)}</t></is></c>' if text else ""


sheet = "".join(f'<row r="{r + 1}">' + "".join(cell(r, c, text) for c, text in enumerate(row)) + "</row>" for r, row in enumerate(rows))
main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
package = "http://schemas.openxmlformats.org/package/2006"
head = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>'
kind = "application/vnd.openxmlformats-officedocument.spreadsheetml"
with zipfile.ZipFile(sys.argv[2], "w", zipfile.ZIP_DEFLATED) as out:
    out.writestr("[Content_Types].xml", f'{head}<Types xmlns="{package}/content-types"><Default Extension="rels" ContentType='
                 f'"application/vnd.openxmlformats-package.relationships+xml"/><Override PartName="/xl/workbook.xml" ContentType="{kind}.sheet.main+xml"/>'
                 f'<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{kind}.worksheet+xml"/></Types>')
    out.writestr("_rels/.rels", f'{head}<Relationships xmlns="{package}/relationships"><Relationship Id="r1" Type="{office}/officeDocument" '
                 'Target="xl/workbook.xml"/></Relationships>')
    out.writestr("xl/workbook.xml", f'{head}<workbook xmlns="{main}" xmlns:r="{office}"><sheets><sheet name="Censo" sheetId="1" r:id="r1"/>'
                 '</sheets></workbook>')
    out.writestr("xl/_rels/workbook.xml.rels", f'{head}<Relationships xmlns="{package}/relationships"><Relationship Id="r1" '
                 f'Type="{office}/worksheet" Target="worksheets/sheet1.xml"/></Relationships>')
    out.writestr("xl/worksheets/sheet1.xml", f'{head}<worksheet xmlns="{main}"><sheetData>{sheet}</sheetData></worksheet>')
