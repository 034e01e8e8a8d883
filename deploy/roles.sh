#!/bin/sh
# Run once by PostgreSQL's own image on an empty data directory: the owning role exists, this adds the application's.
set -eu
psql --set ON_ERROR_STOP=1 --username "$POSTGRES_USER" --dbname "$POSTGRES_DB" \
    --set role="$APPLICATION_ROLE" --set password="$APPLICATION_PASSWORD" <<'SQL'
CREATE ROLE :"role" LOGIN PASSWORD :'password';
ALTER ROLE :"role" SET lock_timeout = '5s';
ALTER ROLE :"role" SET statement_timeout = '60s';
ALTER ROLE :"role" SET idle_in_transaction_session_timeout = '60s';
SQL
