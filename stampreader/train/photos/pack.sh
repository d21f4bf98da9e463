#!/usr/bin/env bash
# Packs what a machine without a network needs to render: the tracer for CPython 3.12 (Linux,
# x86_64) without its development files and unused variants, and the baked outlines of the faces.
#   bash stampreader/train/photos/pack.sh [NODE_MODULES]
# Unpack there with: tar -xJf .pack/mitsuba312.tar.xz -C SOME/FOLDER (then on PYTHONPATH) and
# tar -xJf .pack/fonts-photos.tar.xz (gives .fonts/faces.npz).
set -euo pipefail
cd "$(dirname "$0")/../../.."
python=${PYTHON:-python3}
mitsuba_version=${MITSUBA_VERSION:-3.9.1}
drjit_version=${DRJIT_VERSION:-1.5.0}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
mkdir -p .pack .fonts

if [ ! -f .fonts/faces.npz ]; then
    modules=${1:-$work/node_modules}
    if [ ! -d "$modules" ]; then
        list=$("$python" -c "
import json
for f in json.load(open('stampreader/train/photos/faces.json'))['faces']:
    print(f['package'] + '@' + f['version'])")
        (cd "$work" && npm init -y >/dev/null && npm install --no-audit --no-fund $list >/dev/null)
    fi
    "$python" -m stampreader.train.photos.bake "$modules" --out .fonts/faces.npz
fi
tar -cJf .pack/fonts-photos.tar.xz .fonts/faces.npz

"$python" -m pip download -q --no-deps --only-binary=:all: --python-version 3.12 \
    --platform manylinux_2_28_x86_64 --platform manylinux_2_27_x86_64 -d "$work" \
    "mitsuba==$mitsuba_version" "drjit==$drjit_version"
mkdir "$work/tree"
for wheel in "$work"/*.whl; do
    "$python" -m zipfile -e "$wheel" "$work/tree"
done
cd "$work/tree"
rm -rf ./*/include ./*/cmake ./*.dist-info share mitsuba/pkgconfig mitsuba/mitsuba_stubs
find . \( -name '*.pyi' -o -name '*.pat' -o -name '*spectral*.so' -o -name '*mono*.so' \
    -o -name '*polarized*.so' \) -delete
cd - >/dev/null
tar -C "$work/tree" -cf - . | xz -T0 -6 >.pack/mitsuba312.tar.xz
ls -l .pack
