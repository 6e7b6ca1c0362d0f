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

# What phones, cameras, messengers and screen recorders write; src/clip/source.rs lists the containers.
demuxers=mov,matroska,avi,mpegts,mpegps,asf
video=h264,hevc,vp8,vp9,libdav1d,mpeg4,h263,mpeg1video,mpeg2video,mjpeg,msmpeg4v1,msmpeg4v2,msmpeg4v3,wmv1,wmv2,wmv3,vc1
# Cameras and editors: intermediate formats.
video+=,prores,dnxhd,cfhd,dvvideo,rawvideo
sound=aac,aac_latm,mp1float,mp2float,mp3float,opus,vorbis,flac,alac,ac3,eac3,amrnb,amrwb,wmav1,wmav2,wmapro
sound+=,pcm_s16le,pcm_s16be,pcm_s24le,pcm_s24be,pcm_s32le,pcm_s32be,pcm_f32le,pcm_f32be,pcm_f64le,pcm_f64be
sound+=,pcm_u8,pcm_s8,pcm_alaw,pcm_mulaw,pcm_bluray,adpcm_ms,adpcm_ima_wav,adpcm_ima_qt
parsers=h264,hevc,vp8,vp9,av1,mpeg4video,h263,mpegvideo,mjpeg,vc1,dnxhd,dvaudio
parsers+=,aac,aac_latm,mpegaudio,opus,vorbis,flac,ac3

(cd openh264 && make -j"$jobs" ARCH=x86_64 OS=linux BUILDTYPE=Release PREFIX=/build/static install-static >/build/openh264.log 2>&1)
meson setup --buildtype=release --default-library=static --prefix=/build/static --libdir=lib \
  -Denable_tools=false -Denable_tests=false dav1d dav1d-build >/build/dav1d.log 2>&1
ninja -C dav1d-build -j"$jobs" install >>/build/dav1d.log 2>&1

cd ffmpeg
# The words of configure stand in the libraries: none of them names a place of the building machine.
PKG_CONFIG_PATH=/build/static/lib/pkgconfig ./configure --prefix=/build/ffmpeg --toolchain=hardened \
  --enable-shared --disable-static --disable-autodetect --disable-everything --disable-programs --disable-doc \
  --disable-network --disable-avdevice --disable-avfilter --disable-debug --enable-pthreads \
  --enable-libdav1d --enable-libopenh264 --pkg-config-flags=--static \
  --enable-protocol=file --enable-muxer=mp4 --enable-encoder=libopenh264 \
  --enable-demuxer="$demuxers" --enable-decoder="$video,$sound" --enable-parser="$parsers" >/build/configure.log 2>&1 \
  || { tail -30 /build/configure.log ffbuild/config.log >&2; exit 1; }
grep -q '^License: LGPL version 2.1 or later' /build/configure.log || {
  echo "FFmpeg's licence is not the LGPL 2.1 or later:" >&2; grep '^License' /build/configure.log >&2; exit 1; }
make -j"$jobs" >/build/make.log 2>&1 || { tail -30 /build/make.log >&2; exit 1; }
make install >>/build/make.log 2>&1
