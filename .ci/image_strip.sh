#!/bin/sh
# Remove from a Python installation what only installs software: the running service needs none of it.
#
#   sh .ci/image_strip.sh prefix
set -eu

prefix=${1:?the installation to strip, for example /usr/local}
rm -rf "$prefix"/lib/python3.*/ensurepip \
    "$prefix"/lib/python3.*/site-packages/pip \
    "$prefix"/lib/python3.*/site-packages/pip-*.dist-info \
    "$prefix"/lib/python3.*/site-packages/setuptools \
    "$prefix"/lib/python3.*/site-packages/setuptools-*.dist-info \
    "$prefix"/lib/python3.*/site-packages/_distutils_hack \
    "$prefix"/lib/python3.*/site-packages/distutils-precedence.pth \
    "$prefix"/lib/python3.*/site-packages/wheel \
    "$prefix"/lib/python3.*/site-packages/wheel-*.dist-info
rm -f "$prefix"/bin/pip "$prefix"/bin/pip3 "$prefix"/bin/pip3.* "$prefix"/bin/wheel
