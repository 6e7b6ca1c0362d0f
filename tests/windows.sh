#!/usr/bin/env bash
# Not yet run to its end (docs/install.md says how far).
# Tries the folder for Windows under Wine, on a Debian 13 made for the purpose (Debian 12's Wine lacks a
# library that Rust's programs want): everything is found, both sample swings are measured and set
# against their truth, a folder with a name outside ASCII is written and read, the page is opened.
# Wine is not Windows: what passes here may fail there, and the other way round.
#
# usage: bash tests/windows.sh [DIR]
#
# DIR holds what pipelines/package/windows.sh made (package-out). Needs root. The system is kept in
# QUARTERTURN_PACKAGE_WORK (target/package)/systems for the next time.
set -euo pipefail
cd "$(dirname "$0")/.."
out=$(cd "${1:-package-out}" && pwd)
[ "$(id -u)" = 0 ] || { echo "A system of its own can only be laid by root. Run this as root." >&2; exit 1; }
mkdir -p "${QUARTERTURN_PACKAGE_WORK:-target/package}/systems"
systems=$(cd "${QUARTERTURN_PACKAGE_WORK:-target/package}/systems" && pwd)
base=$systems/trixie-wine
if [ ! -e "$base.done" ]; then
  mirror=$(apt-get indextargets --format '$(REPO_URI) $(RELEASE) $(COMPONENT)' 'Created-By: Packages' |
    awk '$2 == "bookworm" && $3 == "main" { print $1; exit }')
  rm -rf "$base"
  debootstrap --variant=minbase --include=unzip trixie "$base" "$mirror" >"$base.log" 2>&1 || { tail -3 "$base.log" >&2; exit 1; }
  cp /etc/resolv.conf "$base/etc/"
  unshare --mount bash -euc '
    mount -t proc proc "$1/proc"; mount --bind /dev "$1/dev"
    exec chroot "$1" env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin DEBIAN_FRONTEND=noninteractive \
      bash -c "apt-get update -q && apt-get install -y -q --no-install-recommends wine wine64"' wine "$base" >>"$base.log" 2>&1
  touch "$base.done"
fi
trial=$(mktemp -d -p "$systems")
trap 'rm -rf "$trial"' EXIT
mkdir "$trial"/{upper,work,root}
unshare --mount --pid --fork --kill-child --net bash -euc '
  mount -t overlay overlay -o "lowerdir=$1,upperdir=$2/upper,workdir=$2/work" "$2/root"
  mount -t proc proc "$2/root/proc"; mount --rbind /dev "$2/root/dev"; ip link set lo up
  mkdir -p "$2/root/release" "$2/root/clips"
  mount --bind "$3" "$2/root/release"; mount --bind "$4" "$2/root/clips"
  cp tests/package/inside-wine.sh "$2/root/"
  exec chroot "$2/root" env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin LC_ALL=C.UTF-8 bash /inside-wine.sh' \
  trial "$base" "$trial" "$out" "$PWD/sample-clips"
python3 tests/package/against_truth.py "$trial/upper/home/coach/results" sample-clips
printf 'system trixie, %s way zip: %s\n' "$(chroot "$base" dpkg-query -W -f='wine ${Version}' wine)" "$(cat "$trial/upper/home/coach/figures")"
