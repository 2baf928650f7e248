# The service in a container: no shell entry point, no package manager, nothing kept.
# Bodies of tables lie in /tmp while they are answered, in shared memory where that cannot be written.
#
#   docker build -t velamen .
#   docker run --read-only --tmpfs /tmp --cap-drop ALL -p 127.0.0.1:8000:8000 velamen
#
# The base is pinned by version. Pin it by digest as well where images are mirrored:
#   docker build --build-arg PYTHON_IMAGE=python:3.11.14-slim-bookworm@sha256:… .
# No digest stands here because none could be looked up and verified when this was written.
ARG PYTHON_IMAGE=python:3.11.14-slim-bookworm

FROM ${PYTHON_IMAGE} AS build
# Kernels are machine code: compiled for any processor of the platform here, and looked up under
# the same name in the final stage.
ENV NUMBA_CPU_NAME=generic \
    VELAMEN_KERNELS=/opt/velamen/kernels \
    PIP_NO_CACHE_DIR=1
WORKDIR /opt/velamen
COPY .ci/requirements.txt .ci/requirements-test.txt .ci/set_up.sh .ci/image_build.sh .ci/image_strip.sh .ci/bill_of_materials.py .ci/
RUN ["sh", ".ci/image_build.sh", "dependencies"]
COPY service service
RUN ["sh", ".ci/image_build.sh", "kernels"]

FROM ${PYTHON_IMAGE}
LABEL org.opencontainers.image.title="velamen" \
      org.opencontainers.image.licenses="MIT"
WORKDIR /opt/velamen
COPY .ci/image_strip.sh .ci/image_strip.sh
RUN ["sh", ".ci/image_strip.sh", "/usr/local"]
COPY --from=build /opt/velamen/runtime runtime
COPY --from=build /opt/velamen/service service
COPY --from=build /opt/velamen/kernels kernels
# What is inside, as a CycloneDX bill of materials.
COPY --from=build /opt/velamen/bill.cdx.json bill.cdx.json
# HOME leads nowhere: nothing may be looked up or stored there.
# Inside, every address is the container's own: who may call is decided where its port is published,
# and by VELAMEN_KEYS_FILE, which is asked for all the same.
ENV PATH=/opt/velamen/runtime/bin:/usr/bin:/bin \
    HOME=/nonexistent \
    PYTHONUNBUFFERED=1 \
    PYTHONDONTWRITEBYTECODE=1 \
    NUMBA_CPU_NAME=generic \
    VELAMEN_KERNELS=/opt/velamen/kernels \
    VELAMEN_HOST=0.0.0.0 \
    VELAMEN_OPEN=1 \
    VELAMEN_PORT=8000
USER 65532:65532
EXPOSE 8000
HEALTHCHECK --interval=15s --timeout=5s --start-period=20s --retries=3 \
    CMD ["python", "-I", "-c", "import os, urllib.request; urllib.request.urlopen('http://127.0.0.1:' + os.environ['VELAMEN_PORT'] + '/readyz', timeout=4)"]
CMD ["python", "-m", "service"]
