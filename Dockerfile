# Two stages: what builds does not run. The image holds no secret; every setting comes from the environment.
FROM python:3.12-slim AS build
ENV UV_PYTHON_DOWNLOADS=never PIP_DISABLE_PIP_VERSION_CHECK=1
WORKDIR /app
COPY requirements/ requirements/
RUN python -m venv /venv \
    && /venv/bin/python -m pip install --quiet --require-hashes -r requirements/uv.txt \
    && /venv/bin/uv pip sync --compile-bytecode --python /venv/bin/python --require-hashes requirements/service.txt
COPY . .
# What runs may not write beside the code, and would compile it anew at every start.
RUN /venv/bin/python -m compileall -q assets kits jobs services
RUN SECRET_KEY=only-for-collecting-files DATABASE_URL=postgresql://none/none REDIS_URL=redis://none \
    RECORD_KEYS=none:$(printf '%064d' 0) PUBLIC_ADDRESS=https://none.invalid \
    DJANGO_SETTINGS_MODULE=services.settings.production /venv/bin/python manage.py collectstatic --no-input

FROM python:3.12-slim
RUN useradd --system --uid 10001 --no-create-home backpull \
    && install --directory --owner backpull --mode 750 /attachments
COPY --from=build /venv /venv
COPY --from=build --chown=root:root /app /app
WORKDIR /app
ENV PATH=/venv/bin:$PATH PYTHONUNBUFFERED=1 PYTHONDONTWRITEBYTECODE=1 \
    DJANGO_SETTINGS_MODULE=services.settings.production BEAT_SCHEDULE_FILE=/tmp/beat-schedule \
    ATTACHMENTS_FOLDER=/attachments
USER backpull
EXPOSE 8000
CMD ["gunicorn", "--config", "deploy/gunicorn.conf.py", "services.wsgi"]
