#!/usr/bin/env bash
# Runs inside the build system: builds the program from /build/source against /build/ffmpeg.
set -euo pipefail
export LC_ALL=C TZ=UTC CARGO_HOME=/build/cargo CARGO_TARGET_DIR=/build/target CARGO_NET_OFFLINE=true
export PATH=/build/rust/bin:$PATH FFMPEG_DIR=/build/ffmpeg
# Read by src/config/files.rs: what lies in a source tree is none of an installed program's business.
export QUARTERTURN_PACKAGED=1
cd /build/source
# The program looks for its own libraries in the folder lib beside it, wherever that was unpacked,
# before any others (the older kind of tag also holds for what those libraries load).
cargo rustc --release --locked --bin quarterturn -j "${JOBS:-2}" -- -C strip=symbols \
  -C 'link-arg=-Wl,-rpath,$ORIGIN/lib' -C link-arg=-Wl,--disable-new-dtags
