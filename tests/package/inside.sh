#!/usr/bin/env bash
# Runs inside a clean system (tests/package.sh lays it): installs the release one way, uses it as a
# plain user, takes it out again. Fails at the first thing that is not as it should be.
set -euo pipefail
way=$1
fail() { echo "$*" >&2; exit 1; }
for tool in gcc cargo ffmpeg; do ! command -v "$tool" >/dev/null || fail "this system is not clean: it has $tool"; done
! ls /usr/lib/x86_64-linux-gnu/libav* >/dev/null 2>&1 || fail "this system is not clean: it has FFmpeg's libraries"
if [ "$way" != wheel ]; then
  ! command -v python3 >/dev/null || fail "this system is not clean: it has Python"
  ! (exec 3<>/dev/tcp/192.0.2.1/80) 2>/dev/null || fail "this system has a network"
fi
useradd --create-home --uid 1000 coach
home=$(getent passwd coach | cut -d: -f6)
as_coach() { su coach -c "cd; umask 022; export PATH=$PATH; $1"; }
now() { date +%s.%N; }
# Processor seconds of what this script has run and waited for; others' work on the machine is not in them.
# (Only this shell itself knows, no part of a pipe.)
worked() { times >/tmp/times; worked=$(awk 'NR == 2 { gsub("s", ""); for (i = 1; i <= 2; i++) { split($i, t, "m"); n += t[1] * 60 + t[2] } print n }' /tmp/times); }
since() { awk -v a="$1" -v b="$(now)" 'BEGIN { printf "%.1f", b - a }'; }

before=$(now)
case $way in
  folder)
    as_coach "tar -xzf /release/quarterturn-*-linux-x86_64.tar.gz && mv quarterturn-*-linux-x86_64 'my own place'"
    as_coach "cd 'my own place' && sha256sum --check --quiet SHA256SUMS && bash add-to-menu.sh >/dev/null"
    program="$home/.local/bin/quarterturn" size=$(du -sm "$home/my own place" | cut -f1) ;;
  debian)
    dpkg --install /release/quarterturn_*_amd64.deb >/dev/null
    program=quarterturn size=$(du -sm /usr/lib/quarterturn | cut -f1) ;;
  wheel)
    apt-get update -q >/dev/null
    DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends python3-venv >/dev/null 2>&1
    before=$(now)
    certificate=""
    [ ! -f /network.pem ] || certificate="--cert /network.pem"
    as_coach "python3 -m venv venv && venv/bin/pip install --quiet --disable-pip-version-check $certificate /release/quarterturn-*.whl"
    program=venv/bin/quarterturn size=$(du -sm "$home"/venv | cut -f1) ;;
esac
install_s=$(since "$before")

as_coach "$program check" || fail "check finds something missing"
as_coach "$program check" | grep -q 'libopenh264' || fail "another FFmpeg than the release's own is used"
as_coach "$program --version"

before=$(now) && worked && worked_before=$worked
for lesson in first-lesson sixth-lesson; do
  as_coach "$program measure --quiet --face-on /clips/${lesson}_face_on.mp4 --down-the-line /clips/${lesson}_down_the_line.mp4 --out Documents/quarterturn/results >/dev/null"
  [ -s "$home/Documents/quarterturn/results/$lesson/face_on.mp4" ] || fail "no video was written"
done
measure_s=$(awk -v s="$(since "$before")" 'BEGIN { printf "%.1f", s / 2 }')
worked && worked_s=$(awk -v a="$worked_before" -v b="$worked" 'BEGIN { printf "%.1f", (b - a) / 2 }')
as_coach "$program check Documents/quarterturn/results" | grep -c '^same ' | grep -qx 2 || fail "check does not know its own results"

# What a double click starts, without a browser to open.
before=$(now)
as_coach "exec $program show --no-browser" >/tmp/show.txt 2>&1 &
for _ in $(seq 100); do grep -qs 'enter?key=' /tmp/show.txt && break; sleep 0.1; done
url=$(sed -n 's,^On this computer: http://,,p' /tmp/show.txt)
[ -n "$url" ] || fail "no page: $(cat /tmp/show.txt)"
host=${url%%/*} key=${url##*key=}
exec 3<>"/dev/tcp/${host%:*}/${host#*:}"
printf 'GET / HTTP/1.1\r\nHost: %s\r\nCookie: quarterturn_key=%s\r\nConnection: close\r\n\r\n' "$host" "$key" >&3
page=$(tr -d '\0' <&3)
grep -q '^HTTP/1.1 200' <<<"$page" && grep -q 'sixth-lesson' <<<"$page" || fail "the page does not show the swings"
page_s=$(since "$before")
# As Ctrl-C ends it; the smallest systems have no tool that finds a process by name.
for process in /proc/[0-9]*; do
  [ "$(cat "$process/comm" 2>/dev/null)" != quarterturn ] || kill -INT "${process#/proc/}"
done
wait || true
! (exec 3<>"/dev/tcp/${host%:*}/${host#*:}") 2>/dev/null || fail "Ctrl-C does not end the program"

case $way in
  folder)
    as_coach "cd 'my own place' && bash add-to-menu.sh --remove >/dev/null"
    [ ! -e "$home"/.local/bin/quarterturn ] || fail "the command is still there" ;;
  debian)
    [ -s /usr/share/man/man1/quarterturn-measure.1.gz ] || fail "no manual pages"
    bash -c '. /usr/share/bash-completion/completions/quarterturn && complete -p quarterturn' >/dev/null || fail "bash completes nothing"
    [ -s /usr/share/applications/quarterturn.desktop ] || fail "no entry in the menu"
    dpkg --verify quarterturn || fail "files are not as they were packed"
    dpkg --purge quarterturn >/dev/null
    [ ! -e /usr/lib/quarterturn ] && [ ! -e /usr/bin/quarterturn ] || fail "something was left behind" ;;
  wheel)
    as_coach "venv/bin/python -c 'import quarterturn; print(quarterturn.__version__)'"
    as_coach "venv/bin/pip install --quiet --disable-pip-version-check $certificate pandas matplotlib"
    as_coach "mkdir notebook && cp -r Documents/quarterturn/results notebook/"
    as_coach "cp /clips/first-lesson_face_on.mp4 notebook/A.mp4 && cp /clips/first-lesson_down_the_line.mp4 notebook/B.mp4"
    page=$(as_coach "find venv -name results.md")
    as_coach "cd notebook && ../venv/bin/python /notebook.py ../$page"
    as_coach "venv/bin/pip uninstall --quiet --yes quarterturn && [ ! -e venv/bin/quarterturn ]" ;;
esac
[ -s "$home"/Documents/quarterturn/results/first-lesson/swing.json ] || fail "results are gone"
echo "install $install_s s, measure $measure_s s a swing ($worked_s s of processor time), page $page_s s, $size MB" >"$home"/figures
