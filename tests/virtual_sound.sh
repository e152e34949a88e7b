#!/usr/bin/env bash
# A sound card made of software, so that the real audio path can be tested where there is no card.
#
# A private PipeWire server holds three nodes: `speakers` (what the program plays), `guitar` (what it hears) and
# `cable` (the plug at the far end, into which a test plays). ALSA, and so PortAudio, sees one device, `test_card`,
# with one input and two outputs, at one rate. Nothing of the user's own sound is touched.
#
#   virtual_sound.sh up DIR RATE QUANTUM    bring the card up in DIR, or leave it be if it is up like that
#   virtual_sound.sh down DIR               take it down
#   virtual_sound.sh play DIR FILE          play FILE into the cable until its end
#   virtual_sound.sh record DIR FILE SECONDS    write what the speakers hear
#   virtual_sound.sh loop DIR MS            join speakers to guitar with MS milliseconds between them; `off` parts them
#   virtual_sound.sh cable DIR in|out       plug the cable in, or pull it
#   virtual_sound.sh kill DIR               the server dies without a word
#   virtual_sound.sh freeze DIR | thaw DIR  the server stops answering, and goes on
#
# Debian packages: dbus pipewire pipewire-bin pipewire-alsa wireplumber (0.4) libportaudio2
set -euo pipefail

fail() { echo "virtual_sound.sh: $*" >&2; exit 1; }

[[ $# -ge 2 ]] || { sed -n '2,20s/^# \{0,1\}//p' "$0"; exit 2; }
action=$1 dir=$2; shift 2
mkdir -p "$dir"; chmod 700 "$dir"; dir=$(cd "$dir" && pwd)

# Every process below lives in DIR: sockets, settings and home are there and nowhere else.
export XDG_RUNTIME_DIR=$dir PIPEWIRE_RUNTIME_DIR=$dir HOME=$dir/home XDG_CONFIG_HOME=$dir/config
export XDG_STATE_HOME=$dir/state XDG_DATA_HOME=$dir/data
export DBUS_SESSION_BUS_ADDRESS=unix:path=$dir/bus DBUS_SYSTEM_BUS_ADDRESS=unix:path=$dir/bus
unset PIPEWIRE_REMOTE PULSE_SERVER DISPLAY

pid_of() { # the process noted under this name, if it is alive and still the same program
  local pid; pid=$(cat "$dir/$1.pid" 2>/dev/null) || return 1
  local state; state=$(sed 's/.*(\(.*\)) \(.\).*/\2 \1/' "/proc/$pid/stat" 2>/dev/null) || return 1
  [[ $state != Z* && $state == *"${2:-$1}"* ]] && echo "$pid"
}
launch() { # NAME COMMAND...: in the background, its process noted
  local name=$1; shift
  setsid "$@" </dev/null >"$dir/$name.log" 2>&1 & echo $! >"$dir/$name.pid"
}
finish() { # NAME [PROGRAM]: ask, and after a second insist
  local pid; pid=$(pid_of "$@") || { rm -f "$dir/$1.pid"; return 0; }
  kill -CONT "$pid" 2>/dev/null || true; kill "$pid" 2>/dev/null || true
  soon 1 gone "$@" || kill -9 "$pid" 2>/dev/null || true
  rm -f "$dir/$1.pid"
}
gone() { ! pid_of "$@" >/dev/null; }
soon() { # SECONDS COMMAND...: try until it succeeds
  local tries=$(($1 * 40)); shift
  for ((; tries > 0; tries--)); do "$@" >/dev/null 2>&1 && return 0; sleep 0.025; done
  return 1
}
port() { pw-link -io 2>/dev/null | grep -qxF "$1"; }
joined() { pw-link -l 2>/dev/null | awk -v a="$1" -v b="|-> $2" '/^[^ ]/ {on = $0 == a} on && index($0, b) {found = 1} END {exit !found}'; }
join() { joined "$1" "$2" || pw-link "$1" "$2" 2>/dev/null || joined "$1" "$2"; }
part() { pw-link -d "$1" "$2" 2>/dev/null || true; }

node() { # NAME CLASS CHANNELS
  echo "  { factory = adapter args = { factory.name = support.null-audio-sink node.name = $1 media.class = $2"
  echo "      audio.position = [ $3 ] audio.rate = $rate object.linger = true monitor.channel-volumes = false } }"
}
write_settings() {
  local plugin; plugin=$(find /usr/lib -name libasound_module_pcm_pipewire.so -print -quit)
  [[ $plugin ]] || fail "no ALSA plugin of PipeWire: install pipewire-alsa"
  rm -rf "$dir/config" "$dir/state"
  mkdir -p "$dir/home" "$dir/server" "$dir"/config/wireplumber/{main,policy,bluetooth}.lua.d
  {
    echo "context.properties = { core.daemon = true core.name = pipewire-0 mem.allow-mlock = false"
    echo "  default.clock.rate = $rate default.clock.allowed-rates = [ $rate ]"
    echo "  default.clock.quantum = $quantum default.clock.min-quantum = 32 default.clock.max-quantum = $quantum }"
    echo "context.spa-libs = { audio.convert.* = audioconvert/libspa-audioconvert support.* = support/libspa-support }"
    echo "context.modules = ["
    echo "  { name = libpipewire-module-rt args = { nice.level = -11 rt.prio = 50 rtkit.enabled = false rtportal.enabled = false }"
    echo "    flags = [ ifexists nofail ] }"
    local module
    for module in protocol-native metadata spa-node-factory client-node access adapter link-factory session-manager; do
      echo "  { name = libpipewire-module-$module }"
    done
    echo "]"
    echo "context.objects = ["
    echo "  { factory = metadata args = { metadata.name = default } }"
    echo "  { factory = spa-node-factory args = { factory.name = support.node.driver node.name = clock"
    echo "      node.group = pipewire.dummy priority.driver = 20000 } }"
    node speakers Audio/Sink "FL FR"
    node cable Audio/Sink MONO
    node guitar Audio/Source/Virtual MONO
    echo "]"
  } >"$dir/server/pipewire.conf"
  # There is no hardware to look for and no login session to ask; a stream stays where it was put.
  printf '%s.enabled = false\n' alsa_monitor v4l2_monitor libcamera_monitor >"$dir/config/wireplumber/main.lua.d/90-test.lua"
  echo 'stream_defaults.properties = { ["restore-props"] = false, ["restore-target"] = false }' >>"$dir/config/wireplumber/main.lua.d/90-test.lua"
  echo 'default_policy.policy["move"] = false' >"$dir/config/wireplumber/policy.lua.d/90-test.lua"
  printf '%s\n' 'bluez_monitor.enabled = false' 'bluez_monitor.properties["with-logind"] = false' \
    >"$dir/config/wireplumber/bluetooth.lua.d/90-test.lua"
  {
    echo "</usr/share/alsa/alsa.conf>"
    echo "pcm_type.pipewire { lib \"$plugin\" }"
    echo "pcm.test_card { type pipewire capture_node guitar playback_node speakers rate $rate"
    echo "  hint { show on description \"guitar cable and speakers of a test\" } }"
    echo "pcm.!default { type pipewire capture_node guitar playback_node speakers }"
  } >"$dir/asound.conf"
}

up() {
  rate=$1 quantum=$2
  local program
  for program in dbus-daemon pipewire wireplumber pw-cat pw-link pw-loopback; do
    command -v "$program" >/dev/null || fail "$program is missing"
  done
  if pid_of bus dbus-daemon && pid_of server pipewire && pid_of manager wireplumber &&
    [[ $(cat "$dir/made" 2>/dev/null) == "$rate $quantum" ]]; then return 0; fi >/dev/null
  down; write_settings
  launch bus dbus-daemon --session --nofork --nopidfile --address="unix:path=$dir/bus"
  soon 3 test -S "$dir/bus" || fail "no bus: $(tail -n 3 "$dir/bus.log")"
  PIPEWIRE_CONFIG_DIR=$dir/server launch server pipewire
  soon 3 test -S "$dir/pipewire-0" || fail "no server: $(tail -n 3 "$dir/server.log")"
  launch manager wireplumber
  soon 6 port guitar:input_MONO && soon 3 port speakers:monitor_FL && soon 3 join cable:monitor_MONO guitar:input_MONO ||
    fail "the nodes did not come: $(tail -n 3 "$dir/manager.log")"
  echo "$rate $quantum" >"$dir/made"
}
down() {
  local player
  for player in "$dir"/player.*.pid; do [[ -e $player ]] && finish "$(basename "$player" .pid)" pw-cat; done
  finish delay pw-loopback; finish manager wireplumber; finish server pipewire; finish bus dbus-daemon
  rm -f "$dir"/bus "$dir"/pipewire-0* "$dir/made"
}
cat_process() { # run pw-cat so that `down`, or the end of this script, ends it
  pw-cat "$@" & player=$!
  echo $player >"$dir/player.$player.pid"
  trap 'kill $player 2>/dev/null || true; rm -f "$dir/player.$player.pid"' EXIT
  trap 'exit 143' TERM INT
}
loop() {
  part speakers:monitor_FL guitar:input_MONO; finish delay pw-loopback
  case $1 in
    off) ;;
    0) soon 2 join speakers:monitor_FL guitar:input_MONO || fail "no loop" ;;
    *)
      launch delay pw-loopback --name delay --channels 1 -m '[ MONO ]' \
        --delay "$(awk -v ms="$1" 'BEGIN {print ms / 1000}')" \
        --capture-props '{ node.autoconnect = false }' --playback-props '{ node.autoconnect = false }'
      soon 3 join speakers:monitor_FL input.delay:input_MONO && soon 3 join output.delay:output_MONO guitar:input_MONO ||
        fail "no loop with a delay" ;;
  esac
}
server() { pid_of server pipewire || fail "the server is not running"; }

case $action in
  up) up "$1" "$2" ;;
  down) down ;;
  play) cat_process --playback --target cable --quality 10 "$1"; wait $player ;;
  record) cat_process --record --target speakers -P '{ stream.capture.sink = true }' --channels 2 --format f32 "$1"
    sleep "$2"; kill -INT $player; wait $player || true ;;
  loop) loop "$1" ;;
  cable) case $1 in in) join cable:monitor_MONO guitar:input_MONO ;; out) part cable:monitor_MONO guitar:input_MONO ;; esac ;;
  kill) pid=$(server); kill -9 "$pid"; soon 2 gone server pipewire ;;
  freeze) kill -STOP "$(server)" ;;
  thaw) kill -CONT "$(server)" ;;
  *) fail "unknown action $action" ;;
esac
