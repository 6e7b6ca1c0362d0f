#!/usr/bin/env bash
# Fetches what pipelines/package.sh builds with and from, everything that needs a network: the build
# system (Debian 11, for its old C library and its compilers), the sources of the video libraries
# (Debian 12's packages, with Debian's security patches; pinned in sources.sha256), the crates of the
# lock file, and the runtime library.
#
# usage: bash pipelines/package/fetch.sh WORK
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
work=$(mkdir -p "$1" && cd "$1" && pwd)
cd "$here/../.."

# Debian's packages come from where this computer's own come from.
mirror=$(apt-get indextargets --format '$(REPO_URI) $(RELEASE) $(COMPONENT)' 'Created-By: Packages' |
  awk '$2 == "bookworm" && $3 == "main" { print $1; exit }')
[ -n "$mirror" ] || { echo "This computer's apt knows no Debian 12 (bookworm). Package on Debian 12." >&2; exit 1; }

base=$work/base
if [ ! -e "$work/base.done" ]; then
  rm -rf "$base"
  debootstrap --variant=minbase \
    --include=gcc,g++,make,nasm,meson,ninja-build,pkg-config,libc6-dev,libclang1-11,libclang-common-11-dev \
    bullseye "$base" "$mirror" >"$work/debootstrap.log" 2>&1 || {
    tail -5 "$work/debootstrap.log" >&2; echo "The build system could not be fetched; $work/debootstrap.log says more." >&2; exit 1; }
  touch "$work/base.done"
fi

sources=$work/sources
if ! (cd "$sources" 2>/dev/null && sha256sum --check --status "$here/sources.sha256"); then
  mkdir -p "$sources" "$work/apt/lists/partial" "$work/apt/cache/archives/partial"
  echo "deb-src $mirror bookworm main" >"$work/apt/sources.list"
  apt=(apt-get -q -o "Dir::Etc::SourceList=$work/apt/sources.list" -o Dir::Etc::SourceParts=/dev/null
       -o "Dir::State::Lists=$work/apt/lists" -o "Dir::Cache=$work/apt/cache" -o APT::Sandbox::User=root)
  "${apt[@]}" update >"$work/apt.log" 2>&1
  (cd "$sources" && "${apt[@]}" source --download-only ffmpeg openh264 dav1d >>"$work/apt.log" 2>&1)
  (cd "$sources" && sha256sum --check --quiet "$here/sources.sha256") || {
    echo "Debian has other sources now than the pinned ones. Read what changed, build and test, and pin them in pipelines/package/sources.sha256." >&2
    exit 1; }
fi

bash pipelines/fetch-runtime.sh
# The runtime library's licence and its own third-party notices lie in the same package.
notices=$work/runtime-notices
if [ ! -s "$notices/ThirdPartyNotices.txt" ]; then
  mkdir -p "$notices"
  python3 -m pip download --quiet --disable-pip-version-check --no-deps --only-binary=:all: --implementation cp \
    --python-version 3.11 --abi cp311 --platform manylinux_2_28_x86_64 --dest "$notices" onnxruntime==1.32.0
  unzip -q -o -j "$notices"/onnxruntime-*.whl onnxruntime/LICENSE onnxruntime/ThirdPartyNotices.txt -d "$notices"
  rm "$notices"/onnxruntime-*.whl
fi
CARGO_HOME=$work/cargo cargo fetch --locked --target x86_64-unknown-linux-gnu
