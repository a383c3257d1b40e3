#!/bin/sh
# Runs every fuzz target for some seconds, guided by coverage, on stable Rust: scripts/fuzz.sh SECONDS
# Needs a C++ compiler for libFuzzer. What was found is kept in fuzz/corpus, crashes in fuzz/artifacts.
set -eu
seconds=${1:?usage: scripts/fuzz.sh SECONDS}
cd "$(dirname "$0")/.."

# The coverage pass of LLVM, switched on as cargo-fuzz does; no sanitizer, which needs nightly: the
# targets are safe Rust and hold by their assertions.
pass="-Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4"
pass="$pass -Cllvm-args=-sanitizer-coverage-inline-8bit-counters -Cllvm-args=-sanitizer-coverage-pc-table"
pass="$pass -Cllvm-args=-sanitizer-coverage-trace-compares -Ccodegen-units=1 --cfg fuzzing"
host=$(rustc -vV | sed -n 's/^host: //p')
# With a target named, build scripts and macros are left alone.
RUSTFLAGS="$pass" cargo build --quiet --manifest-path fuzz/Cargo.toml --target "$host" --bins

run() {
    target=$1
    shift
    mkdir -p "fuzz/corpus/$target" fuzz/artifacts
    echo "== $target, $seconds s"
    "fuzz/target/$host/debug/$target" "fuzz/corpus/$target" "$@" "-max_total_time=$seconds" \
        "-artifact_prefix=fuzz/artifacts/$target-" -timeout=20 -rss_limit_mb=4096 -print_final_stats=1 \
        >"fuzz/artifacts/$target.log" 2>&1 || {
        tail -n 40 "fuzz/artifacts/$target.log"
        exit 1
    }
    grep -E "stat::number_of_executed_units|stat::new_units_added" "fuzz/artifacts/$target.log"
}

run plan plans tests/plans-bad -dict=fuzz/plan.dict -max_len=16384
run journal fuzz/seeds/journal -max_len=16384
run grammar grammars -max_len=4096
run wav audio-fixtures/no-answer fuzz/seeds/wav -max_len=65536
