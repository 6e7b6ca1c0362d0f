#!/usr/bin/env bash
# Fetches what pipelines/package/windows.sh needs beyond pipelines/package.sh: the source of Rust's
# standard library (Debian's package rust-src, pinned) laid beside a copy of the compiler, with the two
# small start objects compiled; and the runtime library for Windows (PyPI's onnxruntime, pinned).
#
# usage: bash pipelines/package/windows-fetch.sh FOLDER
set -euo pipefail
folder=$(cd "$1" && pwd)
# The source must be of the compiler's very version.
rust_src=1.95.0+dfsg1-2~bpo13+1
rust_src_sha256=7b76db5b880a77f9e52975d2baa6209d2f76d2c9c2789515c3088cb960e2c83b
dll_sha256=443c0065fcdba17618ddef05050308f4b471893c5c7da0337d6957c9073ad8a7
[ "$(rustc -V | cut -d' ' -f2)" = "${rust_src%%+*}" ] || {
  echo "The compiler is $(rustc -V), the pinned source of its library $rust_src: pin the one that belongs to it in $0." >&2; exit 1; }

if [ ! -e "$folder/rust.done" ]; then
  mirror=$(apt-get indextargets --format '$(REPO_URI) $(RELEASE) $(COMPONENT)' 'Created-By: Packages' |
    awk '$2 == "bookworm" && $3 == "main" { print $1; exit }')
  mkdir -p "$folder"/apt/{lists/partial,cache/archives/partial}
  echo "deb $mirror trixie-backports main" >"$folder/apt/sources.list"
  apt=(apt-get -q -o "Dir::Etc::SourceList=$folder/apt/sources.list" -o Dir::Etc::SourceParts=/dev/null
       -o "Dir::State::Lists=$folder/apt/lists" -o "Dir::Cache=$folder/apt/cache" -o APT::Sandbox::User=root)
  "${apt[@]}" update >"$folder/apt.log" 2>&1
  (cd "$folder/apt" && "${apt[@]}" download "rust-src=$rust_src" >>"$folder/apt.log" 2>&1)
  package=$(echo "$folder"/apt/rust-src_*.deb)
  echo "$rust_src_sha256  $package" | sha256sum --check --quiet
  rm -rf "$folder/rust" "$folder/rust-src"
  dpkg-deb -x "$package" "$folder/rust-src"
  # Links where the file system allows, as the compiler is large.
  cp -al "$(readlink -f "$(rustc --print sysroot)")" "$folder/rust" 2>/dev/null || cp -a "$(readlink -f "$(rustc --print sysroot)")" "$folder/rust"
  library=$folder/rust/lib/rustlib/src/rust
  rm -rf "$library" && mkdir -p "$library"
  cp -a "$folder"/rust-src/usr/src/rustc-*/library "$library/"
  rm -rf "$folder/rust-src" "$package"
  start=$folder/rust/lib/rustlib/x86_64-pc-windows-gnu/lib
  mkdir -p "$start"
  for object in rsbegin rsend; do
    RUSTC_BOOTSTRAP=1 "$folder/rust/bin/rustc" --target x86_64-pc-windows-gnu --emit=obj -o "$start/$object.o" "$library/library/rtstartup/$object.rs"
  done
  # The crates that the standard library is made of.
  RUSTC_BOOTSTRAP=1 CARGO_HOME=$folder/../cargo "$folder/rust/bin/cargo" fetch --manifest-path "$library/library/Cargo.toml" --locked
  CARGO_HOME=$folder/../cargo "$folder/rust/bin/cargo" fetch --locked --target x86_64-pc-windows-gnu
  touch "$folder/rust.done"
fi

dll=$folder/onnxruntime/onnxruntime.dll
if ! echo "$dll_sha256  $dll" | sha256sum --check --status 2>/dev/null; then
  mkdir -p "$folder/onnxruntime"
  python3 -m pip download --quiet --disable-pip-version-check --no-deps --only-binary=:all: --implementation cp \
    --python-version 3.12 --abi cp312 --platform win_amd64 --dest "$folder/onnxruntime" onnxruntime==1.32.0
  unzip -q -o -j "$folder"/onnxruntime/*.whl onnxruntime/capi/onnxruntime.dll -d "$folder/onnxruntime"
  rm "$folder"/onnxruntime/*.whl
  echo "$dll_sha256  $dll" | sha256sum --check --quiet
fi
