BEGIN TRANSACTION;
CREATE TABLE event (id INTEGER NOT NULL PRIMARY KEY, name TEXT NOT NULL UNIQUE);
INSERT INTO "event" VALUES(1,'Quarry Field club day');
CREATE TABLE lap (
        outing_id INTEGER NOT NULL REFERENCES outing (id), lap INTEGER NOT NULL, version INTEGER NOT NULL,
        lap_s DOUBLE PRECISION CHECK (lap_s > 0), clock_s DOUBLE PRECISION, flag INTEGER NOT NULL,
        writing_id INTEGER NOT NULL REFERENCES writing (id), PRIMARY KEY (outing_id, lap, version)) WITHOUT ROWID;
INSERT INTO "lap" VALUES(1,1,1,118.2,33000.0,0,1);
INSERT INTO "lap" VALUES(1,2,1,NULL,NULL,1,1);
CREATE TABLE machine (id INTEGER NOT NULL PRIMARY KEY, name TEXT NOT NULL UNIQUE);
INSERT INTO "machine" VALUES(1,'works-450');
CREATE TABLE machine_version (
            machine_id INTEGER NOT NULL REFERENCES machine (id), version INTEGER NOT NULL,
            content TEXT NOT NULL, writing_id INTEGER NOT NULL REFERENCES writing (id), PRIMARY KEY (machine_id, version));
CREATE TABLE outcome (
        outing_id INTEGER NOT NULL REFERENCES outing (id), version INTEGER NOT NULL,
        mark DOUBLE PRECISION CHECK (mark BETWEEN 1 AND 5),
        best_lap_s DOUBLE PRECISION CHECK (best_lap_s > 0),
        writing_id INTEGER NOT NULL REFERENCES writing (id), PRIMARY KEY (outing_id, version));
INSERT INTO "outcome" VALUES(1,1,3.0,118.2,1);
INSERT INTO "outcome" VALUES(1,2,4.0,118.2,2);
CREATE TABLE outing (id INTEGER NOT NULL PRIMARY KEY, session_id TEXT NOT NULL UNIQUE);
INSERT INTO "outing" VALUES(1,'A1');
INSERT INTO "outing" VALUES(2,'A2');
INSERT INTO "outing" VALUES(3,'A3');
CREATE TABLE outing_version (
        outing_id INTEGER NOT NULL REFERENCES outing (id), version INTEGER NOT NULL,
        event_id INTEGER NOT NULL REFERENCES event (id),
        rider_id INTEGER NOT NULL REFERENCES rider (id),
        machine_id INTEGER NOT NULL REFERENCES machine (id),
        walk_id INTEGER REFERENCES walk (id),
        date TEXT NOT NULL, time TEXT NOT NULL,
        setup_form_id INTEGER NOT NULL REFERENCES setup_form (id),
        setup TEXT NOT NULL, further TEXT NOT NULL,
        withdrawn INTEGER NOT NULL, writing_id INTEGER NOT NULL REFERENCES writing (id), PRIMARY KEY (outing_id, version));
INSERT INTO "outing_version" VALUES(1,1,1,1,1,1,'2026-04-11','09:10',1,'[11.0,"mild"]','{"bib":7}',0,1);
INSERT INTO "outing_version" VALUES(2,1,1,1,1,1,'2026-04-11','09:10',1,'[9.0,"mild"]','{"bib":7}',0,1);
INSERT INTO "outing_version" VALUES(3,1,1,1,1,1,'2026-04-11','09:10',1,'[11.0,"mild"]','{"bib":7}',0,1);
INSERT INTO "outing_version" VALUES(3,2,1,1,1,1,'2026-04-11','09:10',1,'[11.0,"mild"]','{"bib":7}',1,2);
CREATE TABLE remark (
        outing_id INTEGER NOT NULL REFERENCES outing (id), place INTEGER NOT NULL, version INTEGER NOT NULL,
        text TEXT NOT NULL, remarks TEXT NOT NULL,
        writing_id INTEGER NOT NULL REFERENCES writing (id), PRIMARY KEY (outing_id, place, version));
INSERT INTO "remark" VALUES(1,1,1,'kicks in the whoops','["rear_kicks"]',1);
CREATE TABLE rider (id INTEGER NOT NULL PRIMARY KEY, name TEXT NOT NULL UNIQUE);
INSERT INTO "rider" VALUES(1,'north');
CREATE TABLE rider_version (
            rider_id INTEGER NOT NULL REFERENCES rider (id), version INTEGER NOT NULL,
            content TEXT NOT NULL, writing_id INTEGER NOT NULL REFERENCES writing (id), PRIMARY KEY (rider_id, version));
INSERT INTO "rider_version" VALUES(1,1,'{"name":"north","mass":88.0,"height":186.0,"skill":"professional","clutch_hand":"aggressive","throttle_hand":"average","braking":"aggressive","arm_pump":"none","note":"Slips the clutch out of every corner and brakes late; likes the front stiff and quiet."}',1);
CREATE TABLE schema_version (version INTEGER NOT NULL PRIMARY KEY, applied_at TEXT NOT NULL);
INSERT INTO "schema_version" VALUES(1,'2026-11-25T08:51:11.710699+00:00');
CREATE TABLE season_import (
        id INTEGER NOT NULL PRIMARY KEY, source TEXT NOT NULL, columns TEXT NOT NULL,
        arrow_schema TEXT NOT NULL, writing_id INTEGER NOT NULL REFERENCES writing (id));
CREATE TABLE setting_change (
        outing_id INTEGER NOT NULL REFERENCES outing (id), setting TEXT NOT NULL, version INTEGER NOT NULL,
        start_value DOUBLE PRECISION NOT NULL, to_value DOUBLE PRECISION NOT NULL,
        reason TEXT NOT NULL, remark TEXT NOT NULL,
        verdict TEXT NOT NULL CHECK (verdict IN ('', 'better', 'same', 'worse')),
        writing_id INTEGER NOT NULL REFERENCES writing (id), PRIMARY KEY (outing_id, setting, version));
INSERT INTO "setting_change" VALUES(1,'shock_rebound_low',1,11.0,9.0,'','rear_kicks','',1);
INSERT INTO "setting_change" VALUES(1,'shock_rebound_low',2,11.0,9.0,'','rear_kicks','better',2);
CREATE TABLE setup (id INTEGER NOT NULL PRIMARY KEY, name TEXT NOT NULL UNIQUE);
CREATE TABLE setup_form (id INTEGER NOT NULL PRIMARY KEY, name TEXT NOT NULL UNIQUE);
INSERT INTO "setup_form" VALUES(1,'["shock_rebound_low","engine_map"]');
CREATE TABLE setup_version (
            setup_id INTEGER NOT NULL REFERENCES setup (id), version INTEGER NOT NULL,
            content TEXT NOT NULL, writing_id INTEGER NOT NULL REFERENCES writing (id), PRIMARY KEY (setup_id, version));
CREATE TABLE walk (
        id INTEGER NOT NULL PRIMARY KEY, event_id INTEGER NOT NULL REFERENCES event (id),
        date TEXT NOT NULL, part TEXT NOT NULL, UNIQUE (event_id, date, part));
INSERT INTO "walk" VALUES(1,1,'2026-04-11','');
CREATE TABLE walk_version (
            walk_id INTEGER NOT NULL REFERENCES walk (id), version INTEGER NOT NULL,
            content TEXT NOT NULL, writing_id INTEGER NOT NULL REFERENCES writing (id), PRIMARY KEY (walk_id, version));
INSERT INTO "walk_version" VALUES(1,1,'{"walk.kind":"outdoor","walk.ground.firmness":"dents","walk.start.surface":"concrete"}',1);
CREATE TABLE writing (
        id INTEGER NOT NULL PRIMARY KEY, who TEXT NOT NULL, written_at TEXT NOT NULL);
INSERT INTO "writing" VALUES(1,'crew','2026-11-25T08:51:11.724450+00:00');
INSERT INTO "writing" VALUES(2,'chief','2026-11-25T08:51:11.771484+00:00');
CREATE INDEX outing_version_day ON outing_version (event_id, rider_id);
CREATE INDEX outing_version_rider ON outing_version (rider_id, date);
COMMIT;
