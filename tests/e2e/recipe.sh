#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# A recipe is written down by one team and followed by another in their own programme, with what was kept and what was not.
set -u
source=${SPINNEY_SOURCE:-$(cd "$(dirname "$0")/../.." && pwd)}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
python3 "$source/tests/e2e/recipe.py" "${SPINNEY:?}" "$work"
