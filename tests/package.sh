#!/usr/bin/env bash
# Proves the release on clean systems: Debian of each given release, made by debootstrap in its
# smallest form, without a compiler, Python or any of the build's packages, and without a network.
# On each, as a plain user: the folder and the Debian package are installed, both sample swings are
# measured and set against their truth, the page is opened, everything is taken out again. With
# --wheel also pip's package, which fetches its runtime library (the only part with a network), and the
# notebook examples of docs/results.md.
#
# usage: bash tests/package.sh [--wheel] [--releases "bullseye bookworm trixie"] [DIR]
#
# DIR holds what pipelines/package.sh made (package-out; made now if it is not there). Needs root.
# The systems are kept in QUARTERTURN_PACKAGE_WORK (target/package)/systems for the next time.
# Prints one line a system and way:  system NAME glibc V way W: install S s, measure S s a swing (S s of processor time), page S s, size MB
set -euo pipefail
cd "$(dirname "$0")/.."
wheel=false releases="bullseye bookworm trixie" out=package-out
while [ $# -gt 0 ]; do
  case $1 in
    --wheel) wheel=true; shift ;;
    --releases) releases=$2; shift 2 ;;
    *) out=$1; shift ;;
  esac
done
[ "$(id -u)" = 0 ] || { echo "Systems of their own can only be laid by root. Run this as root." >&2; exit 1; }
[ -f "$out/SHA256SUMS" ] || bash pipelines/package.sh --out "$out" --yes
out=$(cd "$out" && pwd)
mkdir -p "${QUARTERTURN_PACKAGE_WORK:-target/package}/systems"
systems=$(cd "${QUARTERTURN_PACKAGE_WORK:-target/package}/systems" && pwd)
mirror=$(apt-get indextargets --format '$(REPO_URI) $(RELEASE) $(COMPONENT)' 'Created-By: Packages' |
  awk '$2 == "bookworm" && $3 == "main" { print $1; exit }')

echo "== what was made is whole"
(cd "$out" && sha256sum --check --quiet SHA256SUMS)
python3 tests/package/contents.py "$out"

for release in $releases; do
  base=$systems/$release
  if [ ! -e "$base.done" ]; then
    rm -rf "$base"
    debootstrap --variant=minbase "$release" "$base" "$mirror" >"$base.log" 2>&1 || { tail -3 "$base.log" >&2; exit 1; }
    touch "$base.done"
  fi
  ways="folder debian"
  # Debian 11's Python is older than the runtime's package supports.
  if $wheel && [ "$release" != bullseye ]; then ways="$ways wheel"; fi
  for way in $ways; do
    echo "== $release, $way"
    trial=$(mktemp -d -p "$systems")
    trap 'rm -rf "$trial"' EXIT
    mkdir "$trial"/{upper,work,root}
    network=(--net)
    [ "$way" = wheel ] && network=()
    # The system itself stays as it is: changes go into a layer of their own.
    # Nor does it see, or can it end, any process but its own.
    unshare --mount --pid --fork --kill-child "${network[@]}" bash -euc '
      mount -t overlay overlay -o "lowerdir=$1,upperdir=$2/upper,workdir=$2/work" "$2/root"
      mount -t proc proc "$2/root/proc"; mount --rbind /dev "$2/root/dev"
      [ "$5" = wheel ] || ip link set lo up
      mkdir -p "$2/root/release" "$2/root/clips"
      mount --bind "$3" "$2/root/release"; mount --bind "$4" "$2/root/clips"
      cp tests/package/inside.sh tests/package/notebook.py "$2/root/"
      if [ "$5" = wheel ]; then
        cp /etc/resolv.conf /etc/hosts "$2/root/etc/"
        # Where the network has a certificate of its own, pip is told of it.
        [ -z "${PIP_CERT:-}" ] || cp "$PIP_CERT" "$2/root/network.pem"
      fi
      exec chroot "$2/root" env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin LC_ALL=C.UTF-8 bash /inside.sh "$5"' \
      trial "$base" "$trial" "$out" "$PWD/sample-clips" "$way"
    python3 tests/package/against_truth.py "$trial/upper/home/coach/Documents/quarterturn/results" sample-clips
    printf 'system %s glibc %s way %s: %s\n' "$release" \
      "$(chroot "$base" dpkg-query -W -f='${Version}' libc6)" "$way" "$(cat "$trial/upper/home/coach/figures")"
    rm -rf "$trial"
  done
done
echo "the release works on: $releases"
