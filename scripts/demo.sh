#!/bin/sh
# A walk on spoken fixtures: scripts/demo.sh LOADWALK OUT
# Leaves a record, its text, the figures with their picture, and the reports in OUT.
set -eu
loadwalk=$1
out=$2
plan=plans/generator-skid.toml
list=audio-fixtures/demo/answers.txt

rm -rf "$out"
mkdir -p "$out"
# The same for everybody, whatever this user's own settings are and last tryout came to.
export LOADWALK_TRYOUT=/dev/null LOADWALK_INSPECTORS=/dev/null LOADWALK_VOICE=/dev/null

echo "== the plan"
"$loadwalk" lint "$plan"

echo "== figures"
"$loadwalk" figures "$plan" --svg "$out/figures.svg" >"$out/figures.txt"
tail -n 20 "$out/figures.txt"

echo "== a whole walk by spoken fixtures: a missing pin put right, a wrong count left open, an answer lost"
echo "   in rotor noise, a correction, a stand-by, a cough and a passing remark;"
echo "   the rear left corner called off, one item left out on purpose"
status=0
"$loadwalk" walk "$plan" --inspector "Ilse Brandt" --rigger "Oskar Venn" \
    --called=rear-left --answers "$list" --fast --prompts "$out/prompts" --record "$out/record" || status=$?
# 1 is right here: the wrong count stays open, so the load is not ready.
[ "$status" = 1 ] || { echo "demo: the walk ended with exit code $status, not 1" >&2; exit 1; }

echo "== the record"
"$loadwalk" show "$out/record" >"$out/record.txt"
"$loadwalk" verify "$out/record"
"$loadwalk" report "$out/record" --html "$out/report.html" --pdf "$out/report.pdf" \
    --csv "$out/checks.csv" --vtt "$out/walk.vtt"

echo
echo "record   $out/record"
echo "as text  $out/record.txt"
echo "report   $out/report.html, $out/report.pdf"
echo "figures  $out/figures.txt, $out/figures.svg"
echo "prompts  $out/prompts"
