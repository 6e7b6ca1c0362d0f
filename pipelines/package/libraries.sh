#!/usr/bin/env bash
# Runs inside the build system (pipelines/package.sh lays it): builds the video libraries that the
# release carries into /build/ffmpeg, from Debian's sources in /build/sources.
#
# FFmpeg under the LGPL 2.1 or later (nothing of it that is under the GPL alone), with two libraries
# under two-clause BSD licences inside libavcodec: dav1d reads AV1, OpenH264 writes H.264.
set -euo pipefail
jobs=${JOBS:-2}
export LC_ALL=C TZ=UTC
cd /build/sources

. /build/formats.sh

(cd openh264 && make -j"$jobs" ARCH=x86_64 OS=linux BUILDTYPE=Release PREFIX=/build/static install-static >/build/openh264.log 2>&1)
meson setup --buildtype=release --default-library=static --prefix=/build/static --libdir=lib \
  -Denable_tools=false -Denable_tests=false dav1d dav1d-build >/build/dav1d.log 2>&1
ninja -C dav1d-build -j"$jobs" install >>/build/dav1d.log 2>&1

cd ffmpeg
# The words of configure stand in the libraries: none of them names a place of the building machine.
PKG_CONFIG_PATH=/build/static/lib/pkgconfig ./configure --prefix=/build/ffmpeg --toolchain=hardened \
  --enable-pthreads "${formats[@]}" >/build/configure.log 2>&1 \
  || { tail -30 /build/configure.log ffbuild/config.log >&2; exit 1; }
grep -q '^License: LGPL version 2.1 or later' /build/configure.log || {
  echo "FFmpeg's licence is not the LGPL 2.1 or later:" >&2; grep '^License' /build/configure.log >&2; exit 1; }
make -j"$jobs" >/build/make.log 2>&1 || { tail -30 /build/make.log >&2; exit 1; }
make install >>/build/make.log 2>&1
