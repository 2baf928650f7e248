#!/bin/sh
# The two steps of the first stage of the image, run in the folder that the image will hold.
#
#   sh .ci/image_build.sh dependencies    the environment, without what only installs, and its bill of materials
#   sh .ci/image_build.sh kernels         byte code and compiled kernels, readable by any user
set -eu

case ${1:-} in
    dependencies)
        sh .ci/set_up.sh --runtime --without-kernels runtime
        sh .ci/image_strip.sh runtime
        runtime/bin/python .ci/bill_of_materials.py bill.cdx.json
        ;;
    kernels)
        : "${VELAMEN_KERNELS:?names the folder of the compiled kernels}"
        : "${NUMBA_CPU_NAME:?must be the same here and where the service runs}"
        runtime/bin/python -m compileall -q service
        runtime/bin/python -m service prepare
        chmod -R a+rX,go-w bill.cdx.json runtime service "$VELAMEN_KERNELS"
        ;;
    *)
        echo 'image_build.sh: say dependencies or kernels' >&2
        exit 2
        ;;
esac
