#!/usr/bin/env bash
# Seals the demonstration's clock anew, after a change of code that makes its proofs otherwise. Nobody may do so with
# a real casebook: a sealed decision is superseded, never sealed over.
#     bash tests/seal_the_demonstration.sh [CONSERVE]
set -euo pipefail
conserve=$(realpath "${1:-.venv/bin/conserve}")
cd "$(dirname "${BASH_SOURCE[0]}")/../casebook/sallow-wharf"
rm -rf chain.jsonl sealed rulebooks notes
"$conserve" record . --seal --by 'N. Garrow' --at 2026-03-16T09:30:00+00:00
"$conserve" note bell-blow --stand query --by 'A. Reeve' --at 2026-03-19T20:10:00+00:00 \
    --competence 'Tower captain of the next parish.' \
    --says 'How far is the new place of the hammer from the lip? Too near, and the bell sounds thin.'
"$conserve" note bell-blow --stand answer --answers bell-blow-1 --by clockmaker --at 2026-03-20T08:40:00+00:00 \
    --says '62 mm, where the bow is thickest. I tried it with a mallet, and the note is the old one.'
"$conserve" note fly-pivot --stand query --by trustee --at 2026-03-21T18:05:00+00:00 \
    --says 'Who listens for the rattle once the strike runs again, and how often?'
"$conserve" statement .
