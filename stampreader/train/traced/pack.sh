#!/usr/bin/env bash
# Packs Blender's Cycles with its own Python 3.11 for a machine without a network (Linux, x86_64).
#   PYTHON=…/python3.11 bash stampreader/train/traced/pack.sh [OUT]
# PYTHON has `bpy==4.5.*` and, for a card newer than the kernels that come along, zstandard and
# nvidia-cuda-nvcc-cu12: then the kernel for compute capability 9.0 is compiled here, which takes a
# quarter of an hour. Gives OUT/cycles.tar.xz.00, .01, … (45 MiB each) and OUT/kernel_sm_90.cubin.zst.
# Unpack there with: cat cycles.tar.xz.* | tar -xJ -C FOLDER, lay the kernel into
# FOLDER/cycles/site/bpy/4.5/scripts/addons_core/cycles/lib, run FOLDER/cycles/run SCRIPT …
set -euo pipefail
python=${PYTHON:-python3.11}
out=${1:-.pack}
mkdir -p "$out"
out=$(cd "$out" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
site=$("$python" -c "import sysconfig; print(sysconfig.get_path('purelib'))")
base=$("$python" -c "import sys; print(sys.base_prefix)")
kernels=bpy/4.5/scripts/addons_core/cycles/lib
tree=$work/cycles
mkdir -p "$tree/bin" "$tree/lib" "$tree/site" "$tree/system"

if "$python" -c "import zstandard" 2>/dev/null && [ ! -f "$out/kernel_sm_90.cubin.zst" ]; then
    "$python" -c "
import sys, zstandard
data = zstandard.ZstdDecompressor().stream_reader(open(sys.argv[1], 'rb')).read()
open(sys.argv[2], 'wb').write(data)" "$site/$kernels/kernel_compute_75.ptx.zst" "$work/kernel.ptx"
    "$site/nvidia/cuda_nvcc/bin/ptxas" --split-compile=0 -arch=sm_90 -O3 "$work/kernel.ptx" \
        -o "$work/kernel.cubin"
    "$python" -c "
import sys, zstandard
data = zstandard.ZstdCompressor(level=19).compress(open(sys.argv[1], 'rb').read())
open(sys.argv[2], 'wb').write(data)" "$work/kernel.cubin" "$out/kernel_sm_90.cubin.zst"
fi

cp "$base/bin/python3.11" "$tree/bin/"
cp -a "$base"/lib/libpython3.11.so* "$tree/lib/" 2>/dev/null || true
tar -C "$base/lib" --exclude=__pycache__ --exclude=site-packages --exclude=test --exclude=idlelib \
    --exclude=tkinter --exclude=ensurepip --exclude=lib2to3 --exclude='config-3.11*' \
    -cf - python3.11 | tar -C "$tree/lib" -xf -
cp -a "$site/bpy" "$site/numpy" "$site"/numpy.libs "$tree/site/" 2>/dev/null || cp -a "$site/bpy" "$site/numpy" "$tree/site/"
cd "$tree/site/bpy"
rm -f "$tree/site/$kernels"/*gfx* "$tree/site/$kernels"/kernel_sm_* "$tree/site/$kernels"/*osl*
rm -f lib/*device_hip* lib/*device_sycl*
rm -rf lib/materialx lib/usd 4.5/datafiles/{assets,fonts,studiolights} 4.5/python 4.5/extensions \
    4.5/scripts/{presets,freestyle,templates_*}
find 4.5/scripts/addons_core -mindepth 1 -maxdepth 1 ! -name cycles -exec rm -rf {} +
find "$tree" -name __pycache__ -prune -exec rm -rf {} +
find "$tree/site/numpy" -name tests -prune -exec rm -rf {} +
find "$tree" -name '*.so*' -type f -exec strip --strip-unneeded {} + 2>/dev/null || true
ldd __init__.so | awk '$3 ~ "^/(usr/)?lib" {print $3}' |
    grep -vE '/(libc|libm|libpthread|libdl|librt|libutil)\.so' | xargs -I{} cp -L {} "$tree/system/"
cat >"$tree/run" <<'RUN'
#!/bin/sh
here=$(dirname "$(readlink -f "$0")")
export PYTHONHOME="$here" PYTHONPATH="$here/site" PYTHONDONTWRITEBYTECODE=1
export LD_LIBRARY_PATH="$here/lib:$here/site/bpy/lib:$here/system${LD_LIBRARY_PATH:+:$LD_LIBRARY_PATH}"
exec "$here/bin/python3.11" "$@"
RUN
chmod +x "$tree/run"
du -sh "$tree"
tar -C "$work" -cf - cycles | xz -T0 -6 | split -b 45M -d - "$out/cycles.tar.xz."
ls -l "$out"
