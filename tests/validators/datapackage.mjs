// SPDX-License-Identifier: GPL-3.0-or-later
// Holds a data package to its own description with the published Data Package library: every cell cast by its schema, every key
// between tables followed. Prints JSON: {valid, errors, tables: {name: rows}}.
import { createHash } from "node:crypto";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { createRequire } from "node:module";

const folder = process.argv[2];
const { Package } = createRequire(import.meta.url)("datapackage");
const described = await Package.load(join(folder, "datapackage.json"), { basePath: folder });
const answer = { valid: described.valid, errors: described.errors.map((e) => e.message), tables: {} };
const keys = {};
const rows = {};
for (const table of described.resources) {
  try {
    rows[table.name] = await table.read({ keyed: true, relations: false });
    answer.tables[table.name] = rows[table.name].length;
    keys[table.name] = new Set(rows[table.name].map((row) => row.id));
  } catch (e) {
    answer.errors.push(`${table.name}: ${e.message} ${(e.errors ?? []).slice(0, 3).map((x) => x.message).join("; ")}`);
  }
  const bytes = readFileSync(join(folder, table.descriptor.path));
  if (table.descriptor.bytes !== bytes.length) answer.errors.push(`${table.name}: size`);
  if (table.descriptor.hash !== `sha256:${createHash("sha256").update(bytes).digest("hex")}`) answer.errors.push(`${table.name}: hash`);
}
for (const table of described.resources)
  for (const key of table.descriptor.schema.foreignKeys ?? []) {
    const target = key.reference.resource || table.name;
    const field = [key.fields].flat()[0];
    for (const row of rows[table.name] ?? [])
      if (row[field] != null && !keys[target]?.has(row[field])) {
        answer.errors.push(`${table.name}.${field}: ${row[field]} is no row of ${target}`);
        break;
      }
  }
answer.valid = answer.valid && answer.errors.length === 0;
console.log(JSON.stringify(answer));
