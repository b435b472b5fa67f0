#pragma once

#include <string_view>

namespace oxherd::daemon::store {

// Times are UTC, milliseconds since 1970-01-01, without leap seconds. Values are SI. States and statuses are the words
// that alarms::name_of gives.
inline constexpr std::string_view journal_steps[] = {
    R"sql(
CREATE TABLE journal(
  sequence INTEGER PRIMARY KEY, at INTEGER NOT NULL, room TEXT NOT NULL, alarm TEXT NOT NULL, event TEXT NOT NULL,
  from_state TEXT NOT NULL, to_state TEXT NOT NULL, cause TEXT NOT NULL, author TEXT NOT NULL, comment TEXT NOT NULL,
  priority TEXT NOT NULL, value REAL, expanded REAL, limit_value REAL, unit TEXT NOT NULL, message TEXT NOT NULL
) STRICT;
CREATE TABLE alarm_state(
  room TEXT NOT NULL, alarm TEXT NOT NULL, beneath TEXT NOT NULL, present INTEGER NOT NULL,
  tripped_while_suppressed INTEGER NOT NULL, since INTEGER NOT NULL, shelved_until INTEGER,
  out_of_service_until INTEGER, PRIMARY KEY(room, alarm)
) STRICT, WITHOUT ROWID;
CREATE TABLE calibration(
  id INTEGER PRIMARY KEY, at INTEGER NOT NULL, room TEXT NOT NULL, sensor TEXT NOT NULL, serial TEXT NOT NULL,
  author TEXT NOT NULL, comment TEXT NOT NULL, zero_V REAL NOT NULL, u_zero_V REAL NOT NULL
) STRICT;
CREATE TABLE calibration_point(
  calibration INTEGER NOT NULL REFERENCES calibration(id), point TEXT NOT NULL CHECK(point IN ('span', 'low')),
  signal_V REAL NOT NULL, u_signal_V REAL NOT NULL, oxygen REAL NOT NULL, u_oxygen REAL NOT NULL,
  temperature_K REAL NOT NULL, u_temperature_K REAL NOT NULL, humidity REAL NOT NULL, u_humidity REAL NOT NULL,
  humidity_temperature_K REAL, u_humidity_temperature_K REAL, pressure_Pa REAL NOT NULL, u_pressure_Pa REAL NOT NULL,
  PRIMARY KEY(calibration, point)
) STRICT, WITHOUT ROWID;
)sql",
    // The whole record of each calibration, check and withdrawal, in the JSON of daemon/calibration/record_json.hpp;
    // the columns beside it are for searching. Rows are only ever added. The two tables before it were never written
    // to.
    R"sql(
DROP TABLE calibration_point;
DROP TABLE calibration;
CREATE TABLE calibration_record(
  number INTEGER PRIMARY KEY, room TEXT NOT NULL, sensor TEXT NOT NULL, serial TEXT NOT NULL, act TEXT NOT NULL,
  performed INTEGER NOT NULL, recorded INTEGER NOT NULL, author TEXT NOT NULL, record TEXT NOT NULL
) STRICT;
)sql",
    // Who hides an alarm and why, shelving that ends with the condition, and which alarm of a room came first.
    R"sql(
ALTER TABLE alarm_state ADD COLUMN shelved_by TEXT NOT NULL DEFAULT '';
ALTER TABLE alarm_state ADD COLUMN shelved_because TEXT NOT NULL DEFAULT '';
ALTER TABLE alarm_state ADD COLUMN shelved_once INTEGER NOT NULL DEFAULT 0;
ALTER TABLE alarm_state ADD COLUMN out_of_service_by TEXT NOT NULL DEFAULT '';
ALTER TABLE alarm_state ADD COLUMN out_of_service_because TEXT NOT NULL DEFAULT '';
ALTER TABLE alarm_state ADD COLUMN first_out INTEGER NOT NULL DEFAULT 0;
)sql",
    // How long a vote has been degraded, and when an alarm was raised and returned, must be known after a restart too.
    R"sql(
ALTER TABLE alarm_state ADD COLUMN decided_since INTEGER;
ALTER TABLE alarm_state ADD COLUMN raised INTEGER;
ALTER TABLE alarm_state ADD COLUMN returned INTEGER;
)sql",
    // What the journal shows of an alarm, which what is kept for a restart may differ from. The lines of one alarm, of
    // proof tests ("output/NAME") and about rooms (no alarm) are found without reading all others, which a start waits
    // for.
    R"sql(
ALTER TABLE alarm_state ADD COLUMN shown TEXT NOT NULL DEFAULT '';
CREATE INDEX journal_by_alarm ON journal(alarm);
)sql",
    // A link for every line of the journal and every calibration record, in the order in which they were written; see
    // chain.hpp.
    R"sql(
CREATE TABLE chain(
  position INTEGER PRIMARY KEY, kind TEXT NOT NULL CHECK(kind IN ('journal', 'calibration')), number INTEGER NOT NULL,
  hash TEXT NOT NULL, UNIQUE(kind, number)
) STRICT;
)sql"};

inline constexpr std::string_view measurements_steps[] = {
    R"sql(
CREATE TABLE sensor(
  id INTEGER PRIMARY KEY, room TEXT NOT NULL, name TEXT NOT NULL, UNIQUE(room, name)
) STRICT;
CREATE TABLE channel(
  id INTEGER PRIMARY KEY, sensor INTEGER NOT NULL REFERENCES sensor(id), measurand TEXT NOT NULL,
  UNIQUE(sensor, measurand)
) STRICT;
CREATE TABLE sample(
  at INTEGER NOT NULL, channel INTEGER NOT NULL, si REAL, raw REAL, status TEXT NOT NULL, fault TEXT
) STRICT;
CREATE TABLE reading(
  at INTEGER NOT NULL, sensor INTEGER NOT NULL, status TEXT NOT NULL, oxygen REAL, u_oxygen REAL, oxygen_wet REAL,
  u_oxygen_wet REAL, po2_Pa REAL, u_po2_Pa REAL, raw_V REAL, temperature_K REAL, u_temperature_K REAL, humidity REAL,
  u_humidity REAL, pressure_Pa REAL, u_pressure_Pa REAL, carbon_dioxide REAL, u_carbon_dioxide REAL, reasons TEXT
) STRICT;
CREATE TABLE sample_mark(minute INTEGER PRIMARY KEY, first INTEGER NOT NULL, last INTEGER NOT NULL) STRICT;
CREATE TABLE reading_mark(minute INTEGER PRIMARY KEY, first INTEGER NOT NULL, last INTEGER NOT NULL) STRICT;
)sql",
    // What an oxygen reading was formed from, by the rowid of `reading`, and what later derivations made of it: the
    // reading itself is never changed.
    R"sql(
CREATE TABLE basis(id INTEGER PRIMARY KEY, text TEXT NOT NULL UNIQUE) STRICT;
CREATE TABLE oxygen_input(
  reading INTEGER PRIMARY KEY, basis INTEGER NOT NULL REFERENCES basis(id), input REAL, u_input REAL,
  zeros INTEGER NOT NULL, temperature_K REAL, u_temperature_K REAL, humidity REAL, u_humidity REAL,
  humidity_temperature_K REAL, u_humidity_temperature_K REAL, pressure_Pa REAL, u_pressure_Pa REAL,
  signal_reasons TEXT, gas_reasons TEXT, other_reasons TEXT
) STRICT;
CREATE TABLE derivation(
  id INTEGER PRIMARY KEY, at INTEGER NOT NULL, author TEXT NOT NULL, reason TEXT NOT NULL, room TEXT NOT NULL,
  sensor TEXT NOT NULL, first_at INTEGER NOT NULL, last_at INTEGER NOT NULL
) STRICT;
CREATE TABLE rederived(
  reading INTEGER NOT NULL, derivation INTEGER NOT NULL REFERENCES derivation(id),
  basis INTEGER NOT NULL REFERENCES basis(id), status TEXT NOT NULL, oxygen REAL, u_oxygen REAL, oxygen_wet REAL,
  u_oxygen_wet REAL, po2_Pa REAL, u_po2_Pa REAL, reasons TEXT, PRIMARY KEY(reading, derivation)
) STRICT, WITHOUT ROWID;
)sql",
    // Minutes and hours of the readings, see rollup.hpp; up to which minute they are made.
    R"sql(
CREATE TABLE rollup(
  step INTEGER NOT NULL, sensor INTEGER NOT NULL, start INTEGER NOT NULL, readings INTEGER NOT NULL,
  bad INTEGER NOT NULL,
  oxygen_min REAL, oxygen_max REAL, oxygen_mean REAL,
  u_oxygen_min REAL, u_oxygen_max REAL, u_oxygen_mean REAL,
  po2_Pa_min REAL, po2_Pa_max REAL, po2_Pa_mean REAL,
  raw_V_min REAL, raw_V_max REAL, raw_V_mean REAL,
  temperature_K_min REAL, temperature_K_max REAL, temperature_K_mean REAL,
  humidity_min REAL, humidity_max REAL, humidity_mean REAL,
  pressure_Pa_min REAL, pressure_Pa_max REAL, pressure_Pa_mean REAL,
  carbon_dioxide_min REAL, carbon_dioxide_max REAL, carbon_dioxide_mean REAL,
  PRIMARY KEY(step, sensor, start)
) STRICT, WITHOUT ROWID;
CREATE TABLE rolled(id INTEGER PRIMARY KEY CHECK(id = 1), until INTEGER NOT NULL) STRICT;
)sql",
    // The room's over-pressure. What was recorded before has none.
    R"sql(
ALTER TABLE reading ADD COLUMN over_pressure_Pa REAL;
ALTER TABLE reading ADD COLUMN u_over_pressure_Pa REAL;
ALTER TABLE rollup ADD COLUMN over_pressure_Pa_min REAL;
ALTER TABLE rollup ADD COLUMN over_pressure_Pa_max REAL;
ALTER TABLE rollup ADD COLUMN over_pressure_Pa_mean REAL;
)sql",
    // Tens of seconds are rolled up as well, for two days (RollupKeep): those of the last two are made by and by.
    R"sql(
UPDATE rolled SET until = min(until, CAST(strftime('%s', 'now') AS INTEGER) / 60 - 2880);
)sql"};

} // namespace oxherd::daemon::store
