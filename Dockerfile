# One image for web, relay, worker and migrate; docker-compose.yml shows how they stand together.
FROM python:3.11-slim AS packages
COPY requirements/run.txt /tmp/run.txt
RUN python -m venv /opt/venv \
    && /opt/venv/bin/pip install --no-cache-dir --disable-pip-version-check --no-input \
        --require-hashes --only-binary :all: -r /tmp/run.txt

FROM python:3.11-slim
ENV PATH=/opt/venv/bin:$PATH \
    PYTHONDONTWRITEBYTECODE=1 \
    PYTHONUNBUFFERED=1 \
    VAR_DIR=/var/lib/ventfolio
RUN groupadd --system --gid 10001 ventfolio \
    && useradd --system --uid 10001 --gid 10001 --no-create-home --home-dir /nonexistent ventfolio \
    && install -d -o ventfolio -g ventfolio -m 750 /var/lib/ventfolio
COPY --from=packages /opt/venv /opt/venv
WORKDIR /srv/ventfolio
COPY . .
# Byte code is made here, since the running container may write nowhere but /var/lib/ventfolio and /tmp.
RUN python -m compileall -q /opt/venv/lib portfolio commissioning
USER 10001:10001
VOLUME /var/lib/ventfolio
EXPOSE 8000
# Asked as the proxy would ask: over TLS, for the first allowed host.
HEALTHCHECK --interval=15s --timeout=5s --start-period=30s --retries=3 CMD ["python", "-c", \
    "import os, urllib.request as u; host = os.environ.get('ALLOWED_HOSTS', 'localhost').split(',')[0]; u.urlopen(u.Request('http://127.0.0.1:8000/healthz', headers={'Host': host, 'X-Forwarded-Proto': 'https'}), timeout=4)"]
CMD ["gunicorn", "portfolio.wsgi:application", "--bind", "0.0.0.0:8000", "--workers", "2", \
    "--no-control-socket", "--worker-tmp-dir", "/dev/shm", "--access-logfile", "-", "--max-requests", "5000", "--max-requests-jitter", "500"]
