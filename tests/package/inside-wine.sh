#!/usr/bin/env bash
# Runs inside a clean system with Wine (tests/windows.sh lays it): uses the folder for Windows as a
# plain user would. Fails at the first thing that is not as it should be.
set -euo pipefail
fail() { echo "$*" >&2; exit 1; }
useradd --create-home --uid 1000 coach
home=$(getent passwd coach | cut -d: -f6)
as_coach() { su coach -c "cd; umask 022; export PATH=$PATH LC_ALL=C.UTF-8 WINEDEBUG=-all WINEDLLOVERRIDES=mscoree,mshtml=; $1"; }
now() { date +%s.%N; }
since() { awk -v a="$1" -v b="$(now)" 'BEGIN { printf "%.1f", b - a }'; }

before=$(now)
as_coach "unzip -q /release/quarterturn-*-windows-x86_64.zip && mv quarterturn-*-windows-x86_64 'my öwn place'"
install_s=$(since "$before")
size=$(du -sm "$home/my öwn place" | cut -f1)
as_coach "cd 'my öwn place' && sha256sum --check --quiet SHA256SUMS"
as_coach "wineboot --init" >/dev/null 2>&1 || true
program="wine 'my öwn place/quarterturn.exe'"

as_coach "$program check" | tr -d '\r' >/tmp/check.txt || fail "check finds something missing: $(cat /tmp/check.txt)"
cat /tmp/check.txt
grep -q 'libopenh264' /tmp/check.txt || fail "another FFmpeg than the release's own is used"

before=$(now)
for lesson in first-lesson sixth-lesson; do
  as_coach "$program measure --quiet --face-on /clips/${lesson}_face_on.mp4 --down-the-line /clips/${lesson}_down_the_line.mp4 --out results >/dev/null"
  for file in swing.json report.html face_on.mp4; do
    [ -s "$home/results/$lesson/$file" ] || fail "no $file was written"
  done
done
measure_s=$(awk -v s="$(since "$before")" 'BEGIN { printf "%.1f", s / 2 }')
as_coach "$program check results" | tr -d '\r' | grep -c '^same ' | grep -qx 2 || fail "check does not know its own results"
# Several at once, each in a process of its own that ends with its parent, into a name outside ASCII.
as_coach "mkdir clips && cp /clips/first-lesson_*.mp4 clips/ && $program folder clips --out 'Schüler 名前' >/dev/null" || fail "the folder's swings were not measured"
[ -n "$(find "$home/Schüler 名前" -name swing.json)" ] || fail "the folder holds no swing"

before=$(now)
as_coach "exec $program show results --no-browser" >/tmp/show.txt 2>&1 &
for _ in $(seq 300); do grep -qs 'enter?key=' /tmp/show.txt && break; sleep 0.1; done
url=$(tr -d '\r' </tmp/show.txt | sed -n 's,^On this computer: http://,,p')
[ -n "$url" ] || fail "no page: $(cat /tmp/show.txt)"
host=${url%%/*} key=${url##*key=}
exec 3<>"/dev/tcp/${host%:*}/${host#*:}"
printf 'GET / HTTP/1.1\r\nHost: %s\r\nCookie: quarterturn_key=%s\r\nConnection: close\r\n\r\n' "$host" "$key" >&3
page=$(tr -d '\0' <&3)
grep -q '^HTTP/1.1 200' <<<"$page" && grep -q 'sixth-lesson' <<<"$page" || fail "the page does not show the swings"
page_s=$(since "$before")
as_coach "wineserver -k" || true
wait || true
echo "unpack $install_s s, measure $measure_s s a swing, page $page_s s, $size MB" >"$home"/figures
