-- The fleet's records, version 1. README, "Many sites", says what they are for. Times are UTC instants.

CREATE TABLE schema_version (version integer NOT NULL);
INSERT INTO schema_version VALUES (0);

-- One daemon. `status` is its retained word on MQTT; `heard_at` when this historian last heard a new heartbeat, by its
-- own clock, and `beat_at` the time in that heartbeat, by the site's.
CREATE TABLE site (
  id          smallint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
  name        text NOT NULL UNIQUE,
  status      text,
  status_at   timestamptz,
  evaluations bigint,
  beat_at     timestamptz,
  heard_at    timestamptz
);

-- One quantity of one sensor in one unit (RFC 8428: "/" is a ratio, "Cel" degrees Celsius, "%RH", "Pa", "V").
CREATE TABLE channel (
  id       integer GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
  site     smallint NOT NULL REFERENCES site,
  room     text NOT NULL,
  sensor   text NOT NULL,
  quantity text NOT NULL,
  unit     text NOT NULL,
  UNIQUE (site, room, sensor, quantity, unit)
);

-- What was measured, once for each channel and time; what comes again changes nothing. One partition a month (UTC),
-- made when its first sample comes; to forget a month, drop its partitions.
CREATE TABLE sample (
  channel integer NOT NULL,
  quality smallint,                 -- 1 good, 2 uncertain, 3 bad; null: the pack did not say
  at      timestamptz NOT NULL,
  value   double precision,         -- true and false are 1 and 0
  words   text,                     -- what is no number, such as the quality itself
  PRIMARY KEY (channel, at)
) PARTITION BY RANGE (at);

-- Minutes and hours of numbers: least, greatest and mean are of the samples that are not bad. Partitions as above.
CREATE TABLE minute (
  channel  integer NOT NULL,
  start    timestamptz NOT NULL,
  samples  integer NOT NULL,        -- bad ones too
  bad      integer NOT NULL,
  mean     double precision,
  least    double precision,
  greatest double precision,
  PRIMARY KEY (channel, start)
) PARTITION BY RANGE (start);

CREATE TABLE hour (
  channel  integer NOT NULL,
  start    timestamptz NOT NULL,
  samples  integer NOT NULL,
  bad      integer NOT NULL,
  mean     double precision,
  least    double precision,
  greatest double precision,
  PRIMARY KEY (channel, start)
);

-- Minutes into which samples came since they were rolled up last. `touched` counts, so that what comes meanwhile is
-- not lost.
CREATE TABLE open_minute (
  start      timestamptz PRIMARY KEY,
  touched    bigint NOT NULL,
  touched_at timestamptz NOT NULL
);

-- The alarm journals of the sites. `sequence` grows without gaps at a site; a daemon whose records were taken away
-- begins anew, so its time belongs to the key.
CREATE TABLE journal (
  number      bigint GENERATED ALWAYS AS IDENTITY UNIQUE, -- in the order in which the lines came here
  site        smallint NOT NULL REFERENCES site,
  sequence    bigint NOT NULL,
  at          timestamptz NOT NULL,
  room        text NOT NULL,
  alarm       text NOT NULL,
  event       text NOT NULL,
  from_state  text NOT NULL,        -- IEC 62682
  to_state    text NOT NULL,
  cause       text NOT NULL,
  author      text NOT NULL,
  comment     text NOT NULL,
  priority    text NOT NULL,
  value       double precision,     -- in `unit`
  expanded    double precision,     -- its expanded uncertainty
  limit_value double precision,
  unit        text NOT NULL,
  text        text NOT NULL,
  PRIMARY KEY (site, sequence, at)
);
CREATE INDEX journal_at ON journal (at);

-- What stands now, as the daemons tell it in JSON (README, "MQTT"). An alarm or room that a reload took away has no row.
CREATE TABLE alarm (
  site     smallint NOT NULL REFERENCES site,
  room     text NOT NULL,
  alarm    text NOT NULL,
  told     jsonb NOT NULL,
  heard_at timestamptz NOT NULL,
  PRIMARY KEY (site, room, alarm)
);
CREATE TABLE room (
  site     smallint NOT NULL REFERENCES site,
  room     text NOT NULL,
  told     jsonb NOT NULL,
  heard_at timestamptz NOT NULL,
  PRIMARY KEY (site, room)
);

-- For people and other programs: samples with their names.
CREATE VIEW reading AS
  SELECT site.name AS site, channel.room, channel.sensor, channel.quantity, channel.unit, sample.at, sample.value,
         sample.words, (ARRAY['good', 'uncertain', 'bad'])[sample.quality] AS quality
    FROM sample JOIN channel ON channel.id = sample.channel JOIN site ON site.id = channel.site;

-- Lines that are missing between others: they were lost on the way.
CREATE VIEW journal_gap AS
  SELECT name AS site, before + 1 AS first, sequence - 1 AS last
    FROM (SELECT site.name, sequence, lag(sequence) OVER (PARTITION BY site ORDER BY sequence) AS before
            FROM journal JOIN site ON site.id = journal.site) AS line
   WHERE sequence > before + 1;
