#!/bin/sh
# Starts a private sound server whose microphone (vmic) and loudspeaker (vspk) are null sinks, runs the
# given command there (by default the device tests), and stops the server. Needs no sound hardware.
# Where a speech dispatcher is installed, a private one speaks through the same server.
#   apt install pulseaudio pulseaudio-utils
#   apt install speech-dispatcher speech-dispatcher-espeak-ng speech-dispatcher-audio-plugins
set -eu
command -v pulseaudio >/dev/null && command -v pactl >/dev/null || {
    echo "pulseaudio and pactl are needed; apt install pulseaudio pulseaudio-utils" >&2
    exit 3
}
place=$(mktemp -d)
mkdir -m 700 "$place/run"
# Only the server and sound clients look here; cargo keeps its own home.
export XDG_RUNTIME_DIR="$place/run" PULSE_RUNTIME_PATH="$place/run" PULSE_STATE_PATH="$place"
export PULSE_COOKIE="$place/cookie" PULSE_SERVER="unix:$place/run/native"
pulseaudio -n --daemonize=no --use-pid-file=no --exit-idle-time=-1 --disallow-exit \
    --high-priority=no --realtime=no "--log-target=file:$place/log" \
    -L "module-native-protocol-unix auth-anonymous=1 socket=$place/run/native" \
    -L "module-null-sink sink_name=vmic_in rate=16000 channels=1" \
    -L "module-remap-source source_name=vmic master=vmic_in.monitor" \
    -L "module-null-sink sink_name=vspk rate=48000 channels=2" &
server=$!
speech=
trap 'kill -9 $speech 2>/dev/null || :; kill "$server" 2>/dev/null || :; wait "$server" 2>/dev/null || :; rm -rf "$place"' EXIT INT TERM
tries=0
until pactl info >/dev/null 2>&1; do
    tries=$((tries + 1))
    [ "$tries" -lt 100 ] || { cat "$place/log" >&2; exit 3; }
    sleep 0.1
done
pactl set-default-sink vspk
pactl set-default-source vmic
if command -v speech-dispatcher >/dev/null; then
    mkdir "$place/speech"
    cat >"$place/speech/speechd.conf" <<CONF
CommunicationMethod "unix_socket"
AudioOutputMethod "pulse"
AddModule "espeak-ng" "sd_espeak-ng" "espeak-ng.conf"
DefaultModule espeak-ng
Timeout 0
LogDir "$place"
CONF
    export SPEECHD_ADDRESS="unix_socket:$place/speech.sock"
    speech-dispatcher --run-single --timeout 0 --pid-file "$place/speech.pid" \
        --config-dir "$place/speech" --socket-path "$place/speech.sock" 2>"$place/speech.err" &
    speech=$!
    export LOADWALK_SPEECH_SERVICE="$speech"
    tries=0
    until [ -S "$place/speech.sock" ]; do
        tries=$((tries + 1))
        [ "$tries" -lt 100 ] || { cat "$place/speech.err" >&2; exit 3; }
        sleep 0.1
    done
fi
if [ "$#" -eq 0 ]; then
    set -- cargo test --test it audio:: -- --nocapture
fi
LOADWALK_VIRTUAL_HEADSET=1 "$@"
