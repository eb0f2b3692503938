#!/bin/sh
# The demo home, alive: three weeks of its past in a store, a watch on it that runs 60 times as fast, an invented
# resident who plays all parts, and its pages. `sh examples/demo-live.sh start`, then `stop`.
set -eu
cd "$(dirname "$0")/.."
here=out/demo
bin=.venv/bin
speed=60
port=${STILLWELL_DEMO_PORT:-8480}
longest=2h                      # a forgotten demo ends by itself

stop() {
    for name in pages watch parts broker; do
        end $name
    done
}

end() {
    [ -f "$here/$1.pid" ] || return 0
    pid=$(cat "$here/$1.pid")
    # The number may have gone to another process since; that one is left alone.
    if grep -q -e stillwell -e examples/broker.py "/proc/$pid/cmdline" 2> /dev/null; then
        kill "$pid" 2> /dev/null || true
        for _ in $(seq 1 40); do
            kill -0 "$pid" 2> /dev/null || break
            sleep 0.25
        done
    fi
    rm -f "$here/$1.pid"
}

begin() {
    name=$1
    shift
    timeout "$longest" "$@" > "$here/$name.log" 2>&1 < /dev/null &
    echo $! > "$here/$name.pid"
}

# Wait for a line in a log, then print it.
line() {
    for _ in $(seq 1 120); do
        grep -m 1 -e "$2" "$here/$1.log" && return 0
        kill -0 "$(cat "$here/$1.pid")" 2> /dev/null || break
        sleep 0.25
    done
    echo "The demo did not start; see $here/$1.log:" >&2
    tail -n 5 "$here/$1.log" >&2
    stop
    exit 1
}

start() {
    stop
    mkdir -p "$here"
    rm -f "$here"/home.db "$here"/home.db-* "$here"/home.db.*
    first=$("$bin/python" -c 'from datetime import date, timedelta; print(date.today() - timedelta(days=21))')
    "$bin/stillwell" simulate examples/cottage --days 23 --seed 7 --start "$first" --out "$here/past.parquet" > /dev/null
    "$bin/python" examples/past.py examples/cottage/home.toml "$here/past.parquet" "$here/home.db"

    begin broker "$bin/python" examples/broker.py
    broker=$(line broker 'ready at')
    broker=${broker#ready at }
    # Nobody is really called: each address runs a program that does nothing, and counts as reached.
    (
        umask 077
        {
            printf '[broker]\nhost = "%s"\nport = %s\nversion = "3.1.1"\n' "${broker% *}" "${broker#* }"
            for person in jonas ruth lene piet tom; do
                printf '[people.%s]\n' "$person"
                for way in call text push mail; do printf '%s = "run:/bin/true"\n' $way; done
            done
        } > "$here/settings.toml"
    )
    # Both at once: at this speed a silence of five seconds is one of five minutes.
    begin parts "$bin/stillwell" simulate examples/cottage --live --settings "$here/settings.toml" \
        --days 6 --seed 7 --hazard "water in the utility room in 40min"
    begin watch "$bin/stillwell" watch examples/cottage --store "$here/home.db" --settings "$here/settings.toml" \
        --speed $speed
    line watch "How it stands" > /dev/null
    begin pages "$bin/stillwell" serve examples/cottage --store "$here/home.db" --accounts "$here/accounts" --port "$port"
    address=$(line pages 'http://' | sed 's/.*\(http:[^ ]*\).*/\1/')

    printf '\nThe home lives on, %s times as fast, at %s\n' $speed "$address"
    grep -e '/welcome/' "$here/pages.log" || true
    echo "Within two minutes there is water in the utility room: open Today, and look after it."
    echo "It goes on by itself. To end it: make demo-stop. After $longest it ends by itself."
}

case ${1:-start} in
    start) start ;;
    stop) stop ;;
    *) echo "usage: $0 start | stop" >&2; exit 2 ;;
esac
