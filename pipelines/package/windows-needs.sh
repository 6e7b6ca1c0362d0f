#!/usr/bin/env bash
# Fails where the program or a library of the folder for Windows wants a library that neither the
# folder nor every Windows has.
#
# usage: bash pipelines/package/windows-needs.sh FOLDER
set -euo pipefail
failed=0
# Of the system itself, and Microsoft's C++ runtime, which the runtime library wants (docs/install.md).
system='^(kernel32|kernelbase|ntdll|user32|gdi32|advapi32|shell32|ole32|oleaut32|ws2_32|bcrypt|bcryptprimitives|msvcrt|ucrtbase|userenv|dbghelp|shlwapi|psapi|setupapi|dxgi|d3d12|dxcore|secur32|winmm|iphlpapi|mfplat|strmiids)\.dll$|^api-ms-win-|^(msvcp140|msvcp140_1|vcruntime140|vcruntime140_1)\.dll$'
while read -r file; do
  while read -r needed; do
    small=$(tr '[:upper:]' '[:lower:]' <<<"$needed")
    grep -qE "$system" <<<"$small" || [ -e "$1/$needed" ] || {
      echo "${file#"$1"/} wants $needed, which the folder does not carry" >&2; failed=1; }
  done < <(x86_64-w64-mingw32-objdump -p "$file" | awk '/DLL Name:/ { print $3 }')
done < <(find "$1" -name '*.dll' -o -name '*.exe')
exit $failed
