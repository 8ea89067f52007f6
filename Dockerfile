FROM python:3.13-slim

ENV PIP_NO_CACHE_DIR=1 PYTHONDONTWRITEBYTECODE=1 PYTHONUNBUFFERED=1
WORKDIR /app

# The application's own files; tests and notes stay outside, see .dockerignore.
COPY . .
# "[postgres,s3]" where rows lie on a server and files in an object store.
ARG EXTRAS=""
RUN python -m pip install --quiet -c constraints.txt ".$EXTRAS" \
    && rm -rf build passband.egg-info \
    && useradd --uid 10001 --create-home passband \
    && install -d -o passband /data

USER passband
ENV PASSBAND_DATA=/data
VOLUME /data
EXPOSE 8080
HEALTHCHECK --interval=30s --timeout=5s --start-period=20s \
    CMD ["python", "-c", "import urllib.request as r; r.urlopen('http://127.0.0.1:8080/health', timeout=4)"]
CMD ["passband", "serve", "--host", "0.0.0.0", "--port", "8080"]
