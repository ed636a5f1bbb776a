#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Two copies of one programme edited apart come together: nothing lost, nothing doubled, every conflict shown.
set -u
source=${SPINNEY_SOURCE:-$(cd "$(dirname "$0")/../.." && pwd)}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
python3 "$source/tests/e2e/merge.py" "${SPINNEY:?}" "$work"
