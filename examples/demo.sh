#!/bin/sh
# The tour that `make demo` takes: check a plan, invent a record of that home, replay the plan over it, learn limits from
# it, prove the plan; then, where the recorded homes are at hand (STILLWELL_DATA names their folder), the same with a home
# in which somebody lived.
# It ends with the demo home alive and its pages in the browser (examples/demo-live.sh).
set -eu
cd "$(dirname "$0")/.."
data=${STILLWELL_DATA:-../shared/data}
real=examples/records/inria-home1-2017
mkdir -p out

run() {
    printf '\n$ stillwell %s\n' "$*"
    .venv/bin/stillwell "$@"
}

run check examples/cottage
run simulate examples/cottage --days 60 --seed 7 --out out/cottage.parquet
run replay examples/cottage out/cottage.parquet --silence-at-every-instant \
    --chart out/cottage-days.svg --notice-chart out/cottage-notice.svg

run limits examples/cottage out/cottage.parquet --chart out/cottage-limits.svg --trade-off out/cottage-choices.svg

run prove examples/cottage --year 2026 --chart out/cottage-proof.svg --witness out/worst

if [ -f "$data/inria-home1-2017/Home1_2017.csv.gz" ]; then
    run import "$data/inria-home1-2017/Home1_2017.csv.gz" --mapping $real/mapping.toml --out out/inria-home1.parquet
    # Nobody lived there in these two months, as the import has told.
    run replay $real out/inria-home1.parquet --leave-out 2017-03-30..2017-05-31 --silence-at-every-instant \
        --chart out/inria-home1-days.svg --notice-chart out/inria-home1-notice.svg
else
    printf '\nNo recorded home in %s; the tour ends with the invented one.\n' "$data"
fi

printf '\nThe charts are in %s/out; open them in a browser:\n' "$(pwd)"
ls out/*.svg

# Last of all the home alive, with its pages. It goes on in the background: `make demo-stop` ends it.
if .venv/bin/python -c 'import amqtt, uvicorn, argon2' 2> /dev/null; then
    sh examples/demo-live.sh start
else
    printf '\nThe pages need the extras watch and trial, which are installed unless EXTRAS says otherwise.\n'
fi
