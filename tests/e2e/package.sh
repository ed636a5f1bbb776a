#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The data in open formats: written, held to their standards by programs of others, read back to the same findings.
set -u
source=${SPINNEY_SOURCE:-$(cd "$(dirname "$0")/../.." && pwd)}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
if [ ! -d "$source/tests/validators/node_modules/datapackage" ]; then
  (cd "$source/tests/validators" && npm ci --silent --no-progress >/dev/null 2>&1) || echo "skip the Data Package library cannot be installed"
fi
python3 "$source/tests/e2e/package.py" "${SPINNEY:?}" "$source" "$work"
