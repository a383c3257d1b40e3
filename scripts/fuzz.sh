#!/bin/sh
# Runs every fuzz target for some seconds: scripts/fuzz.sh SECONDS
# Needs a nightly toolchain and cargo-fuzz (cargo install cargo-fuzz).
set -eu
seconds=${1:?usage: scripts/fuzz.sh SECONDS}
cd "$(dirname "$0")/.."

run() {
    target=$1
    shift
    mkdir -p "fuzz/corpus/$target"
    echo "== $target, $seconds s"
    cargo +nightly fuzz run "$target" "fuzz/corpus/$target" "$@" "-max_total_time=$seconds"
}

run plan plans tests/plans-bad -- -dict=fuzz/plan.dict -max_len=16384
run journal -- -max_len=16384
run grammar grammars -- -max_len=4096
run wav audio-fixtures/no-answer -- -max_len=65536
