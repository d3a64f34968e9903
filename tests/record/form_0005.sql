-- The form of a record as migration 0005 left it; records of that form must go on being opened.
CREATE TABLE alembic_version (
    version_num VARCHAR(32) NOT NULL,
    CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
CREATE TABLE care_date (
    id TEXT NOT NULL,
    job_id TEXT NOT NULL,
    day TEXT NOT NULL,
    kind TEXT NOT NULL,
    words TEXT NOT NULL,
    done_at TEXT,
    CONSTRAINT pk_care_date PRIMARY KEY (id),
    CONSTRAINT fk_care_date_job_id FOREIGN KEY(job_id) REFERENCES job (id)
);
CREATE TABLE checklist_line (
    id TEXT NOT NULL,
    job_id TEXT NOT NULL,
    list_name TEXT NOT NULL,
    words TEXT NOT NULL,
    position INTEGER NOT NULL,
    done_at TEXT,
    done_by TEXT,
    CONSTRAINT pk_checklist_line PRIMARY KEY (id),
    CONSTRAINT fk_checklist_line_job_id FOREIGN KEY(job_id) REFERENCES job (id),
    CONSTRAINT uq_checklist_line_job_id_list_name_words UNIQUE (job_id, list_name, words)
);
CREATE TABLE comparison (
    id TEXT NOT NULL,
    panel_id TEXT NOT NULL,
    before_stage TEXT NOT NULL,
    after_stage TEXT NOT NULL,
    program_version TEXT NOT NULL,
    settings TEXT NOT NULL,
    settings_sha256 TEXT NOT NULL,
    made_at TEXT NOT NULL,
    verdict TEXT NOT NULL,
    seal TEXT NOT NULL,
    body BLOB,
    CONSTRAINT pk_comparison PRIMARY KEY (id),
    CONSTRAINT fk_comparison_panel_id FOREIGN KEY(panel_id) REFERENCES panel (id),
    CONSTRAINT uq_comparison_panel_id_program_version_settings_sha256 UNIQUE (panel_id, program_version, settings_sha256)
);
CREATE TABLE damage (
    id TEXT NOT NULL,
    panel_id TEXT NOT NULL,
    kind TEXT NOT NULL,
    words TEXT NOT NULL,
    at TEXT NOT NULL,
    x DOUBLE,
    y DOUBLE,
    stays TEXT,
    sha256 TEXT,
    set_aside TEXT,
    CONSTRAINT pk_damage PRIMARY KEY (id),
    CONSTRAINT fk_damage_panel_id FOREIGN KEY(panel_id) REFERENCES panel (id),
    CONSTRAINT fk_damage_sha256 FOREIGN KEY(sha256) REFERENCES original (sha256)
);
CREATE TABLE job (
    id TEXT NOT NULL,
    reference TEXT NOT NULL,
    customer TEXT NOT NULL,
    kind TEXT NOT NULL,
    vehicle TEXT NOT NULL,
    colour TEXT NOT NULL,
    paint TEXT NOT NULL,
    target TEXT NOT NULL,
    created_at TEXT NOT NULL,
    changed_at TEXT NOT NULL,
    version INTEGER NOT NULL, vehicle_id TEXT CONSTRAINT fk_job_vehicle_id REFERENCES vehicle (id), closed_at TEXT,
    CONSTRAINT pk_job PRIMARY KEY (id),
    CONSTRAINT uq_job_reference UNIQUE (reference)
);
CREATE TABLE keeper (
    vehicle_id TEXT NOT NULL,
    name TEXT NOT NULL,
    contact TEXT NOT NULL,
    plate TEXT NOT NULL,
    CONSTRAINT pk_keeper PRIMARY KEY (vehicle_id),
    CONSTRAINT fk_keeper_vehicle_id FOREIGN KEY(vehicle_id) REFERENCES vehicle (id)
);
CREATE TABLE lease (
    photograph_id TEXT NOT NULL,
    settings_sha256 TEXT NOT NULL,
    holder TEXT NOT NULL,
    until TEXT NOT NULL,
    CONSTRAINT pk_lease PRIMARY KEY (photograph_id, settings_sha256),
    CONSTRAINT fk_lease_photograph_id FOREIGN KEY(photograph_id) REFERENCES photograph (id)
);
CREATE TABLE measurement (
    id TEXT NOT NULL,
    photograph_id TEXT NOT NULL,
    program_version TEXT NOT NULL,
    settings TEXT NOT NULL,
    settings_sha256 TEXT NOT NULL,
    made_at TEXT NOT NULL,
    refused TEXT,
    calibrated BOOLEAN NOT NULL,
    swirl DOUBLE,
    scratch DOUBLE,
    every_mark DOUBLE,
    longest_scratch_mm DOUBLE,
    haze DOUBLE,
    score DOUBLE,
    seal TEXT NOT NULL,
    body BLOB, directions_share DOUBLE,
    CONSTRAINT pk_measurement PRIMARY KEY (id),
    CONSTRAINT fk_measurement_photograph_id FOREIGN KEY(photograph_id) REFERENCES photograph (id),
    CONSTRAINT uq_measurement_photograph_id_program_version_settings_sha256 UNIQUE (photograph_id, program_version, settings_sha256)
);
CREATE TABLE note (
    id TEXT NOT NULL,
    job_id TEXT NOT NULL,
    panel_id TEXT,
    words TEXT NOT NULL,
    at TEXT NOT NULL,
    CONSTRAINT pk_note PRIMARY KEY (id),
    CONSTRAINT fk_note_job_id FOREIGN KEY(job_id) REFERENCES job (id),
    CONSTRAINT fk_note_panel_id FOREIGN KEY(panel_id) REFERENCES panel (id)
);
CREATE TABLE original (
    sha256 TEXT NOT NULL,
    size_bytes INTEGER NOT NULL,
    kept_at TEXT NOT NULL,
    CONSTRAINT pk_original PRIMARY KEY (sha256)
);
CREATE TABLE panel (
    id TEXT NOT NULL,
    job_id TEXT NOT NULL,
    name TEXT NOT NULL,
    position INTEGER NOT NULL,
    material TEXT NOT NULL,
    area_m2 DOUBLE NOT NULL,
    repainted TEXT NOT NULL,
    clear_coat_um DOUBLE,
    catches_nail BOOLEAN NOT NULL,
    version INTEGER NOT NULL, paint TEXT DEFAULT '' NOT NULL, painted_on TEXT,
    CONSTRAINT pk_panel PRIMARY KEY (id),
    CONSTRAINT fk_panel_job_id FOREIGN KEY(job_id) REFERENCES job (id),
    CONSTRAINT uq_panel_job_id_name UNIQUE (job_id, name)
);
CREATE TABLE photograph (
    id TEXT NOT NULL,
    job_id TEXT NOT NULL,
    spot_id TEXT NOT NULL,
    sha256 TEXT NOT NULL,
    stage TEXT NOT NULL,
    name TEXT NOT NULL,
    taken_at TEXT,
    added_at TEXT NOT NULL,
    px_per_mm DOUBLE,
    field_width_mm DOUBLE,
    warnings TEXT NOT NULL,
    set_aside TEXT, film BOOLEAN DEFAULT 0 NOT NULL,
    CONSTRAINT pk_photograph PRIMARY KEY (id),
    CONSTRAINT fk_photograph_job_id FOREIGN KEY(job_id) REFERENCES job (id),
    CONSTRAINT fk_photograph_sha256 FOREIGN KEY(sha256) REFERENCES original (sha256),
    CONSTRAINT fk_photograph_spot_id FOREIGN KEY(spot_id) REFERENCES spot (id),
    CONSTRAINT uq_photograph_job_id_sha256 UNIQUE (job_id, sha256)
);
CREATE TABLE reading (
    id TEXT NOT NULL,
    panel_id TEXT NOT NULL,
    place TEXT NOT NULL,
    value_um DOUBLE NOT NULL,
    entered TEXT NOT NULL,
    at TEXT NOT NULL,
    set_aside TEXT, stage TEXT DEFAULT '' NOT NULL, again BOOLEAN DEFAULT 0 NOT NULL, explained TEXT,
    CONSTRAINT pk_reading PRIMARY KEY (id),
    CONSTRAINT fk_reading_panel_id FOREIGN KEY(panel_id) REFERENCES panel (id)
);
CREATE TABLE running (
    id TEXT NOT NULL,
    panel_id TEXT NOT NULL,
    kind TEXT NOT NULL,
    "by" TEXT NOT NULL,
    started_at TEXT NOT NULL,
    CONSTRAINT pk_running PRIMARY KEY (id),
    CONSTRAINT fk_running_panel_id FOREIGN KEY(panel_id) REFERENCES panel (id)
);
CREATE TABLE setup (
    name TEXT NOT NULL,
    value TEXT NOT NULL,
    changed_at TEXT NOT NULL,
    CONSTRAINT pk_setup PRIMARY KEY (name)
);
CREATE TABLE signature (
    id TEXT NOT NULL,
    job_id TEXT NOT NULL,
    what TEXT NOT NULL,
    words TEXT NOT NULL,
    signed_by TEXT NOT NULL,
    at TEXT NOT NULL,
    given BOOLEAN NOT NULL,
    picture BLOB,
    CONSTRAINT pk_signature PRIMARY KEY (id),
    CONSTRAINT fk_signature_job_id FOREIGN KEY(job_id) REFERENCES job (id)
);
CREATE TABLE spot (
    id TEXT NOT NULL,
    panel_id TEXT NOT NULL,
    name TEXT NOT NULL,
    CONSTRAINT pk_spot PRIMARY KEY (id),
    CONSTRAINT fk_spot_panel_id FOREIGN KEY(panel_id) REFERENCES panel (id),
    CONSTRAINT uq_spot_panel_id_name UNIQUE (panel_id, name)
);
CREATE TABLE stage_entry (
    id TEXT NOT NULL,
    panel_id TEXT NOT NULL,
    stage TEXT NOT NULL,
    warnings TEXT NOT NULL,
    at TEXT NOT NULL,
    CONSTRAINT pk_stage_entry PRIMARY KEY (id),
    CONSTRAINT fk_stage_entry_panel_id FOREIGN KEY(panel_id) REFERENCES panel (id)
);
CREATE TABLE step (
    id TEXT NOT NULL,
    panel_id TEXT NOT NULL,
    spot_id TEXT,
    kind TEXT NOT NULL,
    rung TEXT,
    product TEXT NOT NULL,
    pad TEXT NOT NULL,
    machine TEXT NOT NULL,
    sets INTEGER NOT NULL,
    section_s DOUBLE,
    removal_low_um DOUBLE NOT NULL,
    removal_high_um DOUBLE NOT NULL,
    warnings TEXT NOT NULL,
    at TEXT NOT NULL,
    set_aside TEXT, "by" TEXT DEFAULT '' NOT NULL, minutes DOUBLE,
    CONSTRAINT pk_step PRIMARY KEY (id),
    CONSTRAINT fk_step_panel_id FOREIGN KEY(panel_id) REFERENCES panel (id),
    CONSTRAINT fk_step_spot_id FOREIGN KEY(spot_id) REFERENCES spot (id)
);
CREATE TABLE vehicle (
    id TEXT NOT NULL,
    name TEXT NOT NULL,
    kind TEXT NOT NULL,
    make TEXT NOT NULL,
    colour TEXT NOT NULL,
    paint TEXT NOT NULL,
    created_at TEXT NOT NULL,
    version INTEGER NOT NULL,
    CONSTRAINT pk_vehicle PRIMARY KEY (id),
    CONSTRAINT uq_vehicle_name UNIQUE (name)
);
CREATE INDEX ix_care_date_job_id ON care_date (job_id);
CREATE INDEX ix_damage_panel_id ON damage (panel_id);
CREATE INDEX ix_job_vehicle_id ON job (vehicle_id);
CREATE INDEX ix_note_job_id ON note (job_id);
CREATE INDEX ix_photograph_spot_id ON photograph (spot_id);
CREATE INDEX ix_reading_panel_id ON reading (panel_id);
CREATE INDEX ix_running_panel_id ON running (panel_id);
CREATE INDEX ix_signature_job_id ON signature (job_id);
CREATE INDEX ix_stage_entry_panel_id ON stage_entry (panel_id);
CREATE INDEX ix_step_panel_id ON step (panel_id);
INSERT INTO alembic_version (version_num) VALUES ('0005');
