#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The workbench under stress: requests side by side, hung up on, changes between, another program at the same file.
set -u
timeout 300 python3 "${SPINNEY_SOURCE:?}/tests/e2e/serve_stress.py" "${SPINNEY:?}" 25 || { [ $? = 124 ] && echo "FAIL the workbench under stress: it did not end within five minutes"; exit 1; }
