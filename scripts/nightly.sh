#!/bin/sh
# What takes too long for every change: scripts/nightly.sh [MINUTES]
# All walks of the robot inspector by a virtual headset, the speech service killed among them; latency
# through the devices; and a soak of MINUTES (60) at the speed of life. Needs what
# tests/virtual-headset.sh needs, the fetched models, and the development files of the speech service
# (scripts/setup.sh speech-service).
set -eu
minutes=${1:-60}
cd "$(dirname "$0")/.."

echo "== devices"
sh tests/virtual-headset.sh cargo test --test it audio::
echo "== whole walks by a virtual headset"
sh tests/virtual-headset.sh cargo test --test it robot:: -- --include-ignored
echo "== the same program with the system's speech service, which dies in the middle"
sh tests/virtual-headset.sh cargo test --features speech-service --test it killed_speech_service -- --include-ignored
echo "== devices, with the speech service"
sh tests/virtual-headset.sh cargo test --features speech-service --test it audio::
cargo build --release --bins --example headset
echo "== latency"
# Threads that give way: the sound server needs the cores too.
export GOMP_SPINCOUNT=1000
sh tests/virtual-headset.sh target/release/examples/headset latency --answers 40 -- --talk-over on
echo "== soak of $minutes minutes"
sh tests/virtual-headset.sh target/release/examples/headset soak --minutes "$minutes" -- --talk-over on
