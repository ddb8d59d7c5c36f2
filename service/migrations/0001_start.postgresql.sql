CREATE TABLE "person" ("id" SERIAL NOT NULL PRIMARY KEY, "name" TEXT NOT NULL, "active" BOOLEAN NOT NULL, "version" INTEGER NOT NULL)
-- next
CREATE UNIQUE INDEX "person_name" ON "person" ("name")
-- next
CREATE TABLE "access_key" ("id" SERIAL NOT NULL PRIMARY KEY, "digest" TEXT NOT NULL, "person_id" INTEGER, "system" TEXT, "role" TEXT, "created_at" BIGINT NOT NULL, "revoked_at" BIGINT, FOREIGN KEY ("person_id") REFERENCES "person" ("id"), CHECK ((person_id IS NULL) <> (system IS NULL)), CHECK ((system IS NULL) = (role IS NULL)))
-- next
CREATE UNIQUE INDEX "access_key_digest" ON "access_key" ("digest")
-- next
CREATE INDEX "access_key_person_id" ON "access_key" ("person_id")
-- next
CREATE TABLE "answer" ("caller" TEXT NOT NULL, "idempotency_key" TEXT NOT NULL, "asked" TEXT NOT NULL, "result" TEXT, "at" BIGINT NOT NULL, PRIMARY KEY ("caller", "idempotency_key"))
-- next
CREATE TABLE "site" ("id" SERIAL NOT NULL PRIMARY KEY, "name" TEXT NOT NULL, "zone" TEXT NOT NULL, "late_after_min" INTEGER NOT NULL CHECK (late_after_min BETWEEN 1 AND 1440), "correction_share_pct" INTEGER NOT NULL CHECK (correction_share_pct BETWEEN 1 AND 100), "version" INTEGER NOT NULL)
-- next
CREATE TABLE "deed" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "operation" TEXT NOT NULL, "person_id" INTEGER NOT NULL, "key_id" INTEGER, "system" TEXT, "device" TEXT, "site_id" INTEGER NOT NULL, "occurred_at" BIGINT NOT NULL, "recorded_at" BIGINT NOT NULL, "late" BOOLEAN NOT NULL, "why" TEXT, "refused" TEXT, "corrects_id" BIGINT, FOREIGN KEY ("person_id") REFERENCES "person" ("id"), FOREIGN KEY ("key_id") REFERENCES "access_key" ("id"), FOREIGN KEY ("site_id") REFERENCES "site" ("id"), FOREIGN KEY ("corrects_id") REFERENCES "deed" ("id"))
-- next
CREATE INDEX "deed_operation" ON "deed" ("operation")
-- next
CREATE INDEX "deed_person_id" ON "deed" ("person_id")
-- next
CREATE INDEX "deed_key_id" ON "deed" ("key_id")
-- next
CREATE INDEX "deed_site_id" ON "deed" ("site_id")
-- next
CREATE INDEX "deed_corrects_id" ON "deed" ("corrects_id")
-- next
CREATE TABLE "item" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "code" TEXT NOT NULL, "kind" TEXT NOT NULL, "name" TEXT NOT NULL, "state" TEXT NOT NULL, "place_id" BIGINT, "unit" TEXT CHECK (unit IN ('mg', 'mm', 'piece')), "balance" BIGINT NOT NULL CHECK (balance >= 0) CHECK ((balance IS NULL OR balance = CAST(balance AS BIGINT))), "holds" INTEGER NOT NULL CHECK (holds >= 0), "version" INTEGER NOT NULL, "site_id" INTEGER NOT NULL, "deed_id" BIGINT NOT NULL, FOREIGN KEY ("place_id") REFERENCES "item" ("id"), FOREIGN KEY ("site_id") REFERENCES "site" ("id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"))
-- next
CREATE UNIQUE INDEX "item_code" ON "item" ("code")
-- next
CREATE INDEX "item_place_id" ON "item" ("place_id")
-- next
CREATE INDEX "item_site_id" ON "item" ("site_id")
-- next
CREATE INDEX "item_deed_id" ON "item" ("deed_id")
-- next
CREATE UNIQUE INDEX "item_name_of_place_or_scale" ON "item" ("kind", "name") WHERE kind IN ('A', 'S')
-- next
CREATE TABLE "supplier" ("id" SERIAL NOT NULL PRIMARY KEY, "name" TEXT NOT NULL, "approved" BOOLEAN NOT NULL, "version" INTEGER NOT NULL)
-- next
CREATE UNIQUE INDEX "supplier_name" ON "supplier" ("name")
-- next
CREATE TABLE "material" ("id" SERIAL NOT NULL PRIMARY KEY, "name" TEXT NOT NULL, "kind" TEXT NOT NULL, "supplier_id" INTEGER, "gtin" TEXT, "density_g_ml" DOUBLE PRECISION CHECK (density_g_ml > 0), "shelf_life_days" INTEGER CHECK (shelf_life_days > 0), "opened_life_days" INTEGER CHECK (opened_life_days > 0), "storage_low_c" DOUBLE PRECISION, "storage_high_c" DOUBLE PRECISION, "warm_up_hours" DOUBLE PRECISION CHECK (warm_up_hours >= 0), "tare_mg" BIGINT CHECK (tare_mg > 0) CHECK ((tare_mg IS NULL OR tare_mg = CAST(tare_mg AS BIGINT))), "h_codes" TEXT NOT NULL, "glove_advice" TEXT, "incoming_checks" TEXT NOT NULL, "certificate_wanted" TEXT, "form" TEXT, "areal_weight_g_m2" DOUBLE PRECISION CHECK (areal_weight_g_m2 > 0), "fibre" TEXT, "width_mm" INTEGER CHECK (width_mm > 0), "face" BOOLEAN, "release_coats" INTEGER, "release_wait_min" INTEGER, "version" INTEGER NOT NULL, FOREIGN KEY ("supplier_id") REFERENCES "supplier" ("id"), CHECK (((storage_low_c IS NULL AND storage_high_c IS NULL) OR (storage_low_c IS NOT NULL AND storage_high_c IS NOT NULL))), CHECK (storage_low_c IS NULL OR storage_low_c < storage_high_c), CHECK (kind <> 'fabric' OR (form IS NOT NULL AND areal_weight_g_m2 IS NOT NULL AND width_mm IS NOT NULL)))
-- next
CREATE UNIQUE INDEX "material_name" ON "material" ("name")
-- next
CREATE INDEX "material_supplier_id" ON "material" ("supplier_id")
-- next
CREATE UNIQUE INDEX "material_gtin" ON "material" ("gtin")
-- next
CREATE TABLE "lot" ("item_id" BIGINT NOT NULL PRIMARY KEY, "material_id" INTEGER NOT NULL, "supplier_id" INTEGER, "makers_lot" TEXT, "unknown_because" TEXT, "made_on" DATE, "expires_on" DATE, "date_basis" TEXT NOT NULL CHECK (date_basis IN ('supplier''s date', 'supplier''s month', 'made on plus shelf life', 'estimated', 'no expiry')), "retest_on" DATE, FOREIGN KEY ("item_id") REFERENCES "item" ("id"), FOREIGN KEY ("material_id") REFERENCES "material" ("id"), FOREIGN KEY ("supplier_id") REFERENCES "supplier" ("id"), CHECK ((makers_lot IS NULL) <> (unknown_because IS NULL)), CHECK ((expires_on IS NULL) = (date_basis = 'no expiry')))
-- next
CREATE INDEX "lot_material_id" ON "lot" ("material_id")
-- next
CREATE INDEX "lot_supplier_id" ON "lot" ("supplier_id")
-- next
CREATE UNIQUE INDEX "lot_material_id_supplier_id_makers_lot" ON "lot" ("material_id", "supplier_id", "makers_lot")
-- next
CREATE UNIQUE INDEX "lot_without_supplier" ON "lot" ("material_id", "makers_lot") WHERE supplier_id IS NULL
-- next
CREATE TABLE "document" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "sha256" TEXT NOT NULL, "media_type" TEXT NOT NULL, "name" TEXT NOT NULL, "size" BIGINT NOT NULL, "content" BYTEA NOT NULL, "deed_id" BIGINT NOT NULL, FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"))
-- next
CREATE UNIQUE INDEX "document_sha256" ON "document" ("sha256")
-- next
CREATE INDEX "document_deed_id" ON "document" ("deed_id")
-- next
CREATE TABLE "certificate" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "lot_id" BIGINT NOT NULL, "type" TEXT NOT NULL, "number" TEXT NOT NULL, "issued_on" DATE NOT NULL, "document_id" BIGINT, "deed_id" BIGINT NOT NULL, FOREIGN KEY ("lot_id") REFERENCES "lot" ("item_id"), FOREIGN KEY ("document_id") REFERENCES "document" ("id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"))
-- next
CREATE INDEX "certificate_lot_id" ON "certificate" ("lot_id")
-- next
CREATE INDEX "certificate_document_id" ON "certificate" ("document_id")
-- next
CREATE INDEX "certificate_deed_id" ON "certificate" ("deed_id")
-- next
CREATE TABLE "resin_system" ("id" SERIAL NOT NULL PRIMARY KEY, "name" TEXT NOT NULL, "revision" INTEGER NOT NULL, "data_sheet" TEXT NOT NULL, "resin_id" INTEGER NOT NULL, "tolerance_kind" TEXT NOT NULL CHECK (tolerance_kind IN ('percent of ratio', 'parts', 'percent of each mass')), "tolerance_value" DOUBLE PRECISION NOT NULL CHECK (tolerance_value > 0), "tolerance_source" TEXT NOT NULL, "largest_pot_mg" BIGINT NOT NULL CHECK (largest_pot_mg > 0) CHECK ((largest_pot_mg IS NULL OR largest_pot_mg = CAST(largest_pot_mg AS BIGINT))), "stir_min" DOUBLE PRECISION CHECK (stir_min > 0), "work_low_c" DOUBLE PRECISION, "work_high_c" DOUBLE PRECISION, "work_high_humidity_pct" DOUBLE PRECISION, "constants" TEXT, "approved_at" BIGINT, "approved_by_id" INTEGER, "replaced_by_id" INTEGER, "document_id" BIGINT, "version" INTEGER NOT NULL, FOREIGN KEY ("resin_id") REFERENCES "material" ("id"), FOREIGN KEY ("approved_by_id") REFERENCES "person" ("id"), FOREIGN KEY ("replaced_by_id") REFERENCES "resin_system" ("id"), FOREIGN KEY ("document_id") REFERENCES "document" ("id"), CHECK (((approved_at IS NULL AND approved_by_id IS NULL) OR (approved_at IS NOT NULL AND approved_by_id IS NOT NULL))))
-- next
CREATE INDEX "resin_system_resin_id" ON "resin_system" ("resin_id")
-- next
CREATE INDEX "resin_system_approved_by_id" ON "resin_system" ("approved_by_id")
-- next
CREATE INDEX "resin_system_replaced_by_id" ON "resin_system" ("replaced_by_id")
-- next
CREATE INDEX "resin_system_document_id" ON "resin_system" ("document_id")
-- next
CREATE UNIQUE INDEX "resin_system_name_revision" ON "resin_system" ("name", "revision")
-- next
CREATE TABLE "system_hardener" ("id" SERIAL NOT NULL PRIMARY KEY, "system_id" INTEGER NOT NULL, "material_id" INTEGER NOT NULL, "speed" TEXT NOT NULL, "parts_by_weight" DOUBLE PRECISION NOT NULL CHECK (parts_by_weight > 0), "parts_by_volume" DOUBLE PRECISION CHECK (parts_by_volume > 0), "weight_worked_out" BOOLEAN NOT NULL, "cup_life" TEXT NOT NULL, "tray_life" TEXT NOT NULL, "film_life" TEXT NOT NULL, FOREIGN KEY ("system_id") REFERENCES "resin_system" ("id"), FOREIGN KEY ("material_id") REFERENCES "material" ("id"))
-- next
CREATE INDEX "system_hardener_system_id" ON "system_hardener" ("system_id")
-- next
CREATE INDEX "system_hardener_material_id" ON "system_hardener" ("material_id")
-- next
CREATE UNIQUE INDEX "system_hardener_system_id_material_id" ON "system_hardener" ("system_id", "material_id")
-- next
CREATE TABLE "mix" ("item_id" BIGINT NOT NULL PRIMARY KEY, "system_id" INTEGER NOT NULL, "hardener_id" INTEGER NOT NULL, "frozen_id" BIGINT NOT NULL, "ratio" DOUBLE PRECISION NOT NULL CHECK (ratio > 0), "tolerance_pct" DOUBLE PRECISION NOT NULL CHECK (tolerance_pct > 0), "purpose" TEXT NOT NULL, "planned_mg" BIGINT NOT NULL CHECK (planned_mg > 0) CHECK ((planned_mg IS NULL OR planned_mg = CAST(planned_mg AS BIGINT))), "plan" TEXT, "separate_cups" BOOLEAN NOT NULL, "started_at" BIGINT NOT NULL, "contact_at" BIGINT, "temperature_c" DOUBLE PRECISION, "temperature_of_air" BOOLEAN NOT NULL, "use_before" BIGINT, "life_note" TEXT, "in_tray_at" BIGINT, "deviation_pct" DOUBLE PRECISION, "uncertainty_pct" DOUBLE PRECISION, "verdict" TEXT CHECK (verdict IN ('within', 'near the limit', 'outside')), "closed_at" BIGINT, FOREIGN KEY ("item_id") REFERENCES "item" ("id"), FOREIGN KEY ("system_id") REFERENCES "resin_system" ("id"), FOREIGN KEY ("hardener_id") REFERENCES "system_hardener" ("id"), FOREIGN KEY ("frozen_id") REFERENCES "document" ("id"))
-- next
CREATE INDEX "mix_system_id" ON "mix" ("system_id")
-- next
CREATE INDEX "mix_hardener_id" ON "mix" ("hardener_id")
-- next
CREATE INDEX "mix_frozen_id" ON "mix" ("frozen_id")
-- next
CREATE TABLE "closing" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "mix_id" BIGINT NOT NULL, "applied_mg" BIGINT NOT NULL CHECK (applied_mg >= 0), "left_mg" BIGINT NOT NULL CHECK (left_mg >= 0), "loss_mg" BIGINT NOT NULL CHECK (loss_mg >= 0), "left_estimated" BOOLEAN NOT NULL, "loss_estimated" BOOLEAN NOT NULL, "cup_kept" BOOLEAN NOT NULL, "deed_id" BIGINT NOT NULL, FOREIGN KEY ("mix_id") REFERENCES "mix" ("item_id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"))
-- next
CREATE INDEX "closing_mix_id" ON "closing" ("mix_id")
-- next
CREATE INDEX "closing_deed_id" ON "closing" ("deed_id")
-- next
CREATE TABLE "receipt" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "lot_id" BIGINT NOT NULL, "kind" TEXT NOT NULL, "supplier_id" INTEGER, "delivery_note" TEXT, "place_id" BIGINT NOT NULL, "amount" BIGINT NOT NULL CHECK (amount > 0) CHECK ((amount IS NULL OR amount = CAST(amount AS BIGINT))), "received_at" BIGINT NOT NULL, "remark" TEXT, "deed_id" BIGINT NOT NULL, "released_in_id" BIGINT, FOREIGN KEY ("lot_id") REFERENCES "lot" ("item_id"), FOREIGN KEY ("supplier_id") REFERENCES "supplier" ("id"), FOREIGN KEY ("place_id") REFERENCES "item" ("id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"), FOREIGN KEY ("released_in_id") REFERENCES "deed" ("id"), CHECK (kind <> 'delivery' OR (supplier_id IS NOT NULL AND delivery_note IS NOT NULL)))
-- next
CREATE INDEX "receipt_lot_id" ON "receipt" ("lot_id")
-- next
CREATE INDEX "receipt_supplier_id" ON "receipt" ("supplier_id")
-- next
CREATE INDEX "receipt_place_id" ON "receipt" ("place_id")
-- next
CREATE INDEX "receipt_deed_id" ON "receipt" ("deed_id")
-- next
CREATE INDEX "receipt_released_in_id" ON "receipt" ("released_in_id")
-- next
CREATE TABLE "container" ("item_id" BIGINT NOT NULL PRIMARY KEY, "lot_id" BIGINT NOT NULL, "material_id" INTEGER NOT NULL, "receipt_id" BIGINT, "parent_id" BIGINT, "number" INTEGER NOT NULL, "of" INTEGER NOT NULL, "net" BIGINT NOT NULL CHECK (net > 0) CHECK ((net IS NULL OR net = CAST(net AS BIGINT))), "tare_mg" BIGINT CHECK (tare_mg > 0) CHECK ((tare_mg IS NULL OR tare_mg = CAST(tare_mg AS BIGINT))), "expires_on" DATE, "opened_at" BIGINT, "not_before" BIGINT, "blend" BOOLEAN NOT NULL, FOREIGN KEY ("item_id") REFERENCES "item" ("id"), FOREIGN KEY ("lot_id") REFERENCES "lot" ("item_id"), FOREIGN KEY ("material_id") REFERENCES "material" ("id"), FOREIGN KEY ("receipt_id") REFERENCES "receipt" ("id"), FOREIGN KEY ("parent_id") REFERENCES "container" ("item_id"))
-- next
CREATE INDEX "container_lot_id" ON "container" ("lot_id")
-- next
CREATE INDEX "container_material_id" ON "container" ("material_id")
-- next
CREATE INDEX "container_receipt_id" ON "container" ("receipt_id")
-- next
CREATE INDEX "container_parent_id" ON "container" ("parent_id")
-- next
CREATE TABLE "counter" ("kind" TEXT NOT NULL PRIMARY KEY, "last" BIGINT NOT NULL)
-- next
CREATE TABLE "cup_check" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "mix_id" BIGINT NOT NULL, "hard" BOOLEAN NOT NULL, "hardness" DOUBLE PRECISION, "hardness_scale" TEXT, "occurred_at" BIGINT NOT NULL, "deed_id" BIGINT NOT NULL, FOREIGN KEY ("mix_id") REFERENCES "mix" ("item_id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"))
-- next
CREATE INDEX "cup_check_mix_id" ON "cup_check" ("mix_id")
-- next
CREATE INDEX "cup_check_deed_id" ON "cup_check" ("deed_id")
-- next
CREATE TABLE "schedule" ("id" SERIAL NOT NULL PRIMARY KEY, "name" TEXT NOT NULL, "revision" INTEGER NOT NULL, "source" TEXT NOT NULL, "stages" TEXT NOT NULL, "longest_interval_min" DOUBLE PRECISION NOT NULL CHECK (longest_interval_min > 0 AND longest_interval_min <= 60), "evidence" TEXT NOT NULL CHECK (evidence IN ('part probe', 'air log', 'minimum-maximum thermometer', 'declared')), "start_within_min" INTEGER CHECK (start_within_min > 0), "demould_below_c" DOUBLE PRECISION, "approved_at" BIGINT, "approved_by_id" INTEGER, "document_id" BIGINT, "version" INTEGER NOT NULL, FOREIGN KEY ("approved_by_id") REFERENCES "person" ("id"), FOREIGN KEY ("document_id") REFERENCES "document" ("id"), CHECK (((approved_at IS NULL AND approved_by_id IS NULL) OR (approved_at IS NOT NULL AND approved_by_id IS NOT NULL))))
-- next
CREATE INDEX "schedule_approved_by_id" ON "schedule" ("approved_by_id")
-- next
CREATE INDEX "schedule_document_id" ON "schedule" ("document_id")
-- next
CREATE UNIQUE INDEX "schedule_name_revision" ON "schedule" ("name", "revision")
-- next
CREATE TABLE "cure" ("item_id" BIGINT NOT NULL PRIMARY KEY, "schedule_id" INTEGER NOT NULL, "post_cure" BOOLEAN NOT NULL, "started_at" BIGINT NOT NULL, "ended_at" BIGINT, "evidence" TEXT CHECK (evidence IN ('part probe', 'air log', 'minimum-maximum thermometer', 'declared')), "passed" BOOLEAN, "verdict" TEXT, "judged_in_id" BIGINT, FOREIGN KEY ("item_id") REFERENCES "item" ("id"), FOREIGN KEY ("schedule_id") REFERENCES "schedule" ("id"), FOREIGN KEY ("judged_in_id") REFERENCES "deed" ("id"), CHECK (ended_at IS NULL OR ended_at >= started_at), CHECK (((ended_at IS NULL AND passed IS NULL) OR (ended_at IS NOT NULL AND passed IS NOT NULL))))
-- next
CREATE INDEX "cure_schedule_id" ON "cure" ("schedule_id")
-- next
CREATE INDEX "cure_judged_in_id" ON "cure" ("judged_in_id")
-- next
CREATE TABLE "logger" ("id" SERIAL NOT NULL PRIMARY KEY, "name" TEXT NOT NULL, "profile" TEXT, "sensor_low_c" DOUBLE PRECISION, "sensor_high_c" DOUBLE PRECISION, "version" INTEGER NOT NULL, CHECK (((sensor_low_c IS NULL AND sensor_high_c IS NULL) OR (sensor_low_c IS NOT NULL AND sensor_high_c IS NOT NULL))), CHECK (sensor_low_c < sensor_high_c))
-- next
CREATE UNIQUE INDEX "logger_name" ON "logger" ("name")
-- next
CREATE TABLE "cure_log" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "cure_id" BIGINT NOT NULL, "logger_id" INTEGER NOT NULL, "document_id" BIGINT NOT NULL, "profile" TEXT NOT NULL, "part_probes" TEXT NOT NULL, "air_probes" TEXT NOT NULL, "stands_for" TEXT NOT NULL, "left_out" TEXT NOT NULL, "elsewhere" TEXT NOT NULL, "readings" TEXT NOT NULL, "summary" TEXT NOT NULL, "first_at" BIGINT NOT NULL, "last_at" BIGINT NOT NULL, "deed_id" BIGINT NOT NULL, FOREIGN KEY ("cure_id") REFERENCES "cure" ("item_id"), FOREIGN KEY ("logger_id") REFERENCES "logger" ("id"), FOREIGN KEY ("document_id") REFERENCES "document" ("id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"), CHECK (last_at >= first_at))
-- next
CREATE INDEX "cure_log_cure_id" ON "cure_log" ("cure_id")
-- next
CREATE INDEX "cure_log_logger_id" ON "cure_log" ("logger_id")
-- next
CREATE INDEX "cure_log_document_id" ON "cure_log" ("document_id")
-- next
CREATE INDEX "cure_log_deed_id" ON "cure_log" ("deed_id")
-- next
CREATE TABLE "cure_reading" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "cure_id" BIGINT NOT NULL, "kind" TEXT NOT NULL CHECK (kind IN ('minimum-maximum thermometer', 'declared')), "low_c" DOUBLE PRECISION, "high_c" DOUBLE PRECISION, "reset_at" BIGINT, "remark" TEXT, "occurred_at" BIGINT NOT NULL, "deed_id" BIGINT NOT NULL, FOREIGN KEY ("cure_id") REFERENCES "cure" ("item_id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"), CHECK (((low_c IS NULL AND high_c IS NULL AND reset_at IS NULL) OR (low_c IS NOT NULL AND high_c IS NOT NULL AND reset_at IS NOT NULL))), CHECK (reset_at IS NULL OR reset_at <= occurred_at), CHECK (low_c IS NULL OR low_c <= high_c), CHECK ((kind = 'declared') = (low_c IS NULL)))
-- next
CREATE INDEX "cure_reading_cure_id" ON "cure_reading" ("cure_id")
-- next
CREATE INDEX "cure_reading_deed_id" ON "cure_reading" ("deed_id")
-- next
CREATE TABLE "design" ("id" SERIAL NOT NULL PRIMARY KEY, "part_number" TEXT NOT NULL, "revision" TEXT NOT NULL, "name" TEXT NOT NULL, "resin_need" TEXT NOT NULL, "plies" TEXT NOT NULL, "zones" TEXT NOT NULL, "ply_by_ply" BOOLEAN NOT NULL, "traceable" BOOLEAN NOT NULL, "schedule" TEXT, "piece_spread_pct" DOUBLE PRECISION CHECK (piece_spread_pct > 0), "densities" TEXT, "laminate" TEXT, "bag" TEXT, "approved_at" BIGINT, "approved_by_id" INTEGER, "document_id" BIGINT, "version" INTEGER NOT NULL, FOREIGN KEY ("approved_by_id") REFERENCES "person" ("id"), FOREIGN KEY ("document_id") REFERENCES "document" ("id"), CHECK (((approved_at IS NULL AND approved_by_id IS NULL) OR (approved_at IS NOT NULL AND approved_by_id IS NOT NULL))))
-- next
CREATE INDEX "design_approved_by_id" ON "design" ("approved_by_id")
-- next
CREATE INDEX "design_document_id" ON "design" ("document_id")
-- next
CREATE UNIQUE INDEX "design_part_number_revision" ON "design" ("part_number", "revision")
-- next
CREATE TABLE "kit" ("item_id" BIGINT NOT NULL PRIMARY KEY, "design_id" INTEGER, "cut_at" BIGINT NOT NULL, "mass_mg" BIGINT CHECK ((mass_mg IS NULL OR mass_mg = CAST(mass_mg AS BIGINT))), FOREIGN KEY ("item_id") REFERENCES "item" ("id"), FOREIGN KEY ("design_id") REFERENCES "design" ("id"))
-- next
CREATE INDEX "kit_design_id" ON "kit" ("design_id")
-- next
CREATE TABLE "movement" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "source_id" BIGINT, "target_id" BIGINT, "amount" BIGINT CHECK (amount > 0) CHECK ((amount IS NULL OR amount = CAST(amount AS BIGINT))), "unit" TEXT CHECK (unit IN ('mg', 'mm', 'piece')), "kind" TEXT NOT NULL, "estimated" BOOLEAN NOT NULL, "purpose" TEXT, "zone" TEXT, "occurred_at" BIGINT NOT NULL, "deed_id" BIGINT NOT NULL, "cancelled_by_id" BIGINT, FOREIGN KEY ("source_id") REFERENCES "item" ("id"), FOREIGN KEY ("target_id") REFERENCES "item" ("id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"), FOREIGN KEY ("cancelled_by_id") REFERENCES "deed" ("id"), CHECK (((amount IS NULL AND unit IS NULL) OR (amount IS NOT NULL AND unit IS NOT NULL))), CHECK (source_id IS NOT NULL OR target_id IS NOT NULL), CHECK (source_id IS NULL OR target_id IS NULL OR source_id <> target_id), CHECK (amount IS NOT NULL OR (source_id IS NOT NULL AND target_id IS NOT NULL)))
-- next
CREATE INDEX "movement_source_id" ON "movement" ("source_id")
-- next
CREATE INDEX "movement_target_id" ON "movement" ("target_id")
-- next
CREATE INDEX "movement_deed_id" ON "movement" ("deed_id")
-- next
CREATE INDEX "movement_cancelled_by_id" ON "movement" ("cancelled_by_id")
-- next
CREATE TABLE "cut" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "kit_id" BIGINT NOT NULL, "roll_id" BIGINT NOT NULL, "movement_id" BIGINT NOT NULL, "kit_mm" BIGINT NOT NULL, "waste_mm" BIGINT NOT NULL, "offcut_mm" BIGINT NOT NULL, "offcut_id" BIGINT, "plies" TEXT NOT NULL, "deed_id" BIGINT NOT NULL, FOREIGN KEY ("kit_id") REFERENCES "kit" ("item_id"), FOREIGN KEY ("roll_id") REFERENCES "container" ("item_id"), FOREIGN KEY ("movement_id") REFERENCES "movement" ("id"), FOREIGN KEY ("offcut_id") REFERENCES "container" ("item_id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"))
-- next
CREATE INDEX "cut_kit_id" ON "cut" ("kit_id")
-- next
CREATE INDEX "cut_roll_id" ON "cut" ("roll_id")
-- next
CREATE UNIQUE INDEX "cut_movement_id" ON "cut" ("movement_id")
-- next
CREATE INDEX "cut_offcut_id" ON "cut" ("offcut_id")
-- next
CREATE INDEX "cut_deed_id" ON "cut" ("deed_id")
-- next
CREATE TABLE "mould" ("item_id" BIGINT NOT NULL PRIMARY KEY, "part_number" TEXT, "pulls" INTEGER NOT NULL, "ready_at" BIGINT, FOREIGN KEY ("item_id") REFERENCES "item" ("id"))
-- next
CREATE TABLE "part" ("item_id" BIGINT NOT NULL PRIMARY KEY, "design_id" INTEGER NOT NULL, "mould_id" BIGINT, "order" TEXT, "customer" TEXT, "started_at" BIGINT NOT NULL, "started_by_id" INTEGER NOT NULL, "laid_up_at" BIGINT, "demoulded_at" BIGINT, "released_at" BIGINT, "released_by_id" INTEGER, "shipped_at" BIGINT, "mass_mg" BIGINT CHECK ((mass_mg IS NULL OR mass_mg = CAST(mass_mg AS BIGINT))), FOREIGN KEY ("item_id") REFERENCES "item" ("id"), FOREIGN KEY ("design_id") REFERENCES "design" ("id"), FOREIGN KEY ("mould_id") REFERENCES "mould" ("item_id"), FOREIGN KEY ("started_by_id") REFERENCES "person" ("id"), FOREIGN KEY ("released_by_id") REFERENCES "person" ("id"), CHECK (((released_at IS NULL AND released_by_id IS NULL) OR (released_at IS NOT NULL AND released_by_id IS NOT NULL))))
-- next
CREATE INDEX "part_design_id" ON "part" ("design_id")
-- next
CREATE INDEX "part_mould_id" ON "part" ("mould_id")
-- next
CREATE INDEX "part_started_at" ON "part" ("started_at")
-- next
CREATE INDEX "part_started_by_id" ON "part" ("started_by_id")
-- next
CREATE INDEX "part_released_by_id" ON "part" ("released_by_id")
-- next
CREATE TABLE "inspection" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "part_id" BIGINT NOT NULL, "accepted" BOOLEAN NOT NULL, "remark" TEXT, "measurements" TEXT NOT NULL, "occurred_at" BIGINT NOT NULL, "deed_id" BIGINT NOT NULL, FOREIGN KEY ("part_id") REFERENCES "part" ("item_id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"))
-- next
CREATE INDEX "inspection_part_id" ON "inspection" ("part_id")
-- next
CREATE INDEX "inspection_deed_id" ON "inspection" ("deed_id")
-- next
CREATE TABLE "nonconformance" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "item_id" BIGINT NOT NULL, "found" TEXT NOT NULL, "in_service" BOOLEAN NOT NULL, "failed" BOOLEAN NOT NULL, "opened_at" BIGINT NOT NULL, "opened_by_id" INTEGER NOT NULL, "deed_id" BIGINT NOT NULL, "disposition" TEXT, "decided_because" TEXT, "decided_at" BIGINT, "decided_by_id" INTEGER, "decided_in_id" BIGINT, FOREIGN KEY ("item_id") REFERENCES "item" ("id"), FOREIGN KEY ("opened_by_id") REFERENCES "person" ("id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"), FOREIGN KEY ("decided_by_id") REFERENCES "person" ("id"), FOREIGN KEY ("decided_in_id") REFERENCES "deed" ("id"), CHECK (((disposition IS NULL AND decided_because IS NULL AND decided_at IS NULL AND decided_by_id IS NULL AND decided_in_id IS NULL) OR (disposition IS NOT NULL AND decided_because IS NOT NULL AND decided_at IS NOT NULL AND decided_by_id IS NOT NULL AND decided_in_id IS NOT NULL))))
-- next
CREATE INDEX "nonconformance_item_id" ON "nonconformance" ("item_id")
-- next
CREATE INDEX "nonconformance_opened_by_id" ON "nonconformance" ("opened_by_id")
-- next
CREATE INDEX "nonconformance_deed_id" ON "nonconformance" ("deed_id")
-- next
CREATE INDEX "nonconformance_decided_by_id" ON "nonconformance" ("decided_by_id")
-- next
CREATE INDEX "nonconformance_decided_in_id" ON "nonconformance" ("decided_in_id")
-- next
CREATE TABLE "defect" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "inspection_id" BIGINT, "nonconformance_id" BIGINT, "part_id" BIGINT NOT NULL, "kind" TEXT NOT NULL, "zone" TEXT NOT NULL, "size_mm" DOUBLE PRECISION CHECK (size_mm > 0), "limit_mm" DOUBLE PRECISION, "accepted" BOOLEAN NOT NULL, "remark" TEXT, "deed_id" BIGINT NOT NULL, FOREIGN KEY ("inspection_id") REFERENCES "inspection" ("id"), FOREIGN KEY ("nonconformance_id") REFERENCES "nonconformance" ("id"), FOREIGN KEY ("part_id") REFERENCES "part" ("item_id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"))
-- next
CREATE INDEX "defect_inspection_id" ON "defect" ("inspection_id")
-- next
CREATE INDEX "defect_nonconformance_id" ON "defect" ("nonconformance_id")
-- next
CREATE INDEX "defect_part_id" ON "defect" ("part_id")
-- next
CREATE INDEX "defect_deed_id" ON "defect" ("deed_id")
-- next
CREATE TABLE "entry" ("seq" BIGINT NOT NULL PRIMARY KEY, "deed_id" BIGINT NOT NULL, "previous" TEXT NOT NULL, "hash" TEXT NOT NULL, "body" TEXT NOT NULL, FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"))
-- next
CREATE UNIQUE INDEX "entry_deed_id" ON "entry" ("deed_id")
-- next
CREATE TABLE "flag" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "item_id" BIGINT NOT NULL, "kind" TEXT NOT NULL, "sentence" TEXT NOT NULL, "facts" TEXT NOT NULL, "stops" BOOLEAN NOT NULL, "permission" BIGINT, "occurred_at" BIGINT NOT NULL, "deed_id" BIGINT NOT NULL, FOREIGN KEY ("item_id") REFERENCES "item" ("id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"))
-- next
CREATE INDEX "flag_item_id" ON "flag" ("item_id")
-- next
CREATE INDEX "flag_kind" ON "flag" ("kind")
-- next
CREATE INDEX "flag_permission" ON "flag" ("permission")
-- next
CREATE INDEX "flag_deed_id" ON "flag" ("deed_id")
-- next
CREATE TABLE "head" ("id" INTEGER NOT NULL PRIMARY KEY, "seq" BIGINT NOT NULL, "hash" TEXT NOT NULL, "at" BIGINT)
-- next
CREATE TABLE "hold" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "item_id" BIGINT, "person_id" INTEGER, "reason" TEXT NOT NULL, "since" BIGINT, "flag" BIGINT, "nonconformance" BIGINT, "placed_at" BIGINT NOT NULL, "placed_by_id" BIGINT NOT NULL, "lifted_at" BIGINT, "lifted_by_id" BIGINT, FOREIGN KEY ("item_id") REFERENCES "item" ("id"), FOREIGN KEY ("person_id") REFERENCES "person" ("id"), FOREIGN KEY ("placed_by_id") REFERENCES "deed" ("id"), FOREIGN KEY ("lifted_by_id") REFERENCES "deed" ("id"), CHECK (((lifted_at IS NULL AND lifted_by_id IS NULL) OR (lifted_at IS NOT NULL AND lifted_by_id IS NOT NULL))), CHECK ((item_id IS NULL) <> (person_id IS NULL)))
-- next
CREATE INDEX "hold_item_id" ON "hold" ("item_id")
-- next
CREATE INDEX "hold_person_id" ON "hold" ("person_id")
-- next
CREATE INDEX "hold_flag" ON "hold" ("flag")
-- next
CREATE INDEX "hold_nonconformance" ON "hold" ("nonconformance")
-- next
CREATE INDEX "hold_placed_by_id" ON "hold" ("placed_by_id")
-- next
CREATE INDEX "hold_lifted_by_id" ON "hold" ("lifted_by_id")
-- next
CREATE TABLE "incoming_check" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "lot_id" BIGINT NOT NULL, "name" TEXT NOT NULL, "result" TEXT NOT NULL, "value" DOUBLE PRECISION, "low" DOUBLE PRECISION, "high" DOUBLE PRECISION, "unit" TEXT, "passed" BOOLEAN NOT NULL, "deed_id" BIGINT NOT NULL, FOREIGN KEY ("lot_id") REFERENCES "lot" ("item_id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"))
-- next
CREATE INDEX "incoming_check_lot_id" ON "incoming_check" ("lot_id")
-- next
CREATE INDEX "incoming_check_deed_id" ON "incoming_check" ("deed_id")
-- next
CREATE TABLE "label" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "item_id" BIGINT NOT NULL, "issue" INTEGER NOT NULL CHECK (issue >= 1), "size" TEXT NOT NULL, "facts" TEXT NOT NULL, "issued_at" BIGINT NOT NULL, "deed_id" BIGINT NOT NULL, "void_at" BIGINT, "void_by_id" BIGINT, FOREIGN KEY ("item_id") REFERENCES "item" ("id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"), FOREIGN KEY ("void_by_id") REFERENCES "deed" ("id"), CHECK (((void_at IS NULL AND void_by_id IS NULL) OR (void_at IS NOT NULL AND void_by_id IS NOT NULL))))
-- next
CREATE INDEX "label_item_id" ON "label" ("item_id")
-- next
CREATE INDEX "label_deed_id" ON "label" ("deed_id")
-- next
CREATE INDEX "label_void_by_id" ON "label" ("void_by_id")
-- next
CREATE UNIQUE INDEX "label_item_id_issue" ON "label" ("item_id", "issue")
-- next
CREATE TABLE "made_with" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "item_id" BIGINT NOT NULL, "used_id" BIGINT, "person_id" INTEGER, "role" TEXT NOT NULL, "occurred_at" BIGINT NOT NULL, "deed_id" BIGINT NOT NULL, FOREIGN KEY ("item_id") REFERENCES "item" ("id"), FOREIGN KEY ("used_id") REFERENCES "item" ("id"), FOREIGN KEY ("person_id") REFERENCES "person" ("id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"), CHECK ((used_id IS NULL) <> (person_id IS NULL)))
-- next
CREATE INDEX "made_with_item_id" ON "made_with" ("item_id")
-- next
CREATE INDEX "made_with_used_id" ON "made_with" ("used_id")
-- next
CREATE INDEX "made_with_person_id" ON "made_with" ("person_id")
-- next
CREATE INDEX "made_with_deed_id" ON "made_with" ("deed_id")
-- next
CREATE TABLE "mould_treatment" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "mould_id" BIGINT NOT NULL, "kind" TEXT NOT NULL, "container_id" BIGINT, "coats" INTEGER, "ready_at" BIGINT, "remark" TEXT, "occurred_at" BIGINT NOT NULL, "deed_id" BIGINT NOT NULL, FOREIGN KEY ("mould_id") REFERENCES "mould" ("item_id"), FOREIGN KEY ("container_id") REFERENCES "container" ("item_id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"))
-- next
CREATE INDEX "mould_treatment_mould_id" ON "mould_treatment" ("mould_id")
-- next
CREATE INDEX "mould_treatment_container_id" ON "mould_treatment" ("container_id")
-- next
CREATE INDEX "mould_treatment_deed_id" ON "mould_treatment" ("deed_id")
-- next
CREATE TABLE "part_step" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "part_id" BIGINT NOT NULL, "kind" TEXT NOT NULL, "facts" TEXT NOT NULL, "passed" BOOLEAN, "occurred_at" BIGINT NOT NULL, "deed_id" BIGINT NOT NULL, FOREIGN KEY ("part_id") REFERENCES "part" ("item_id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"))
-- next
CREATE INDEX "part_step_part_id" ON "part_step" ("part_id")
-- next
CREATE INDEX "part_step_deed_id" ON "part_step" ("deed_id")
-- next
CREATE TABLE "permission" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "kind" TEXT NOT NULL CHECK (kind IN ('deviation permit', 'concession')), "item_id" BIGINT NOT NULL, "reasons" TEXT NOT NULL, "flags" TEXT NOT NULL, "why" TEXT NOT NULL, "until" BIGINT, "decision" TEXT NOT NULL CHECK (decision IN ('asked', 'permitted', 'refused')), "asked_by_id" INTEGER NOT NULL, "asked_at" BIGINT NOT NULL, "asked_in_id" BIGINT NOT NULL, "signed_by_id" INTEGER, "signed_at" BIGINT, "signed_in_id" BIGINT, "remark" TEXT, FOREIGN KEY ("item_id") REFERENCES "item" ("id"), FOREIGN KEY ("asked_by_id") REFERENCES "person" ("id"), FOREIGN KEY ("asked_in_id") REFERENCES "deed" ("id"), FOREIGN KEY ("signed_by_id") REFERENCES "person" ("id"), FOREIGN KEY ("signed_in_id") REFERENCES "deed" ("id"), CHECK (((signed_by_id IS NULL AND signed_at IS NULL AND signed_in_id IS NULL) OR (signed_by_id IS NOT NULL AND signed_at IS NOT NULL AND signed_in_id IS NOT NULL))), CHECK (signed_by_id IS NULL OR signed_by_id <> asked_by_id), CHECK ((decision = 'asked') = (signed_by_id IS NULL)))
-- next
CREATE INDEX "permission_item_id" ON "permission" ("item_id")
-- next
CREATE INDEX "permission_asked_by_id" ON "permission" ("asked_by_id")
-- next
CREATE INDEX "permission_asked_in_id" ON "permission" ("asked_in_id")
-- next
CREATE INDEX "permission_signed_by_id" ON "permission" ("signed_by_id")
-- next
CREATE INDEX "permission_signed_in_id" ON "permission" ("signed_in_id")
-- next
CREATE TABLE "person_role" ("person_id" INTEGER NOT NULL, "role" TEXT NOT NULL, PRIMARY KEY ("person_id", "role"), FOREIGN KEY ("person_id") REFERENCES "person" ("id"))
-- next
CREATE INDEX "person_role_person_id" ON "person_role" ("person_id")
-- next
CREATE TABLE "planned_pour" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "mix_id" BIGINT NOT NULL, "container_id" BIGINT NOT NULL, "component" TEXT NOT NULL, "amount_mg" BIGINT NOT NULL CHECK (amount_mg > 0) CHECK ((amount_mg IS NULL OR amount_mg = CAST(amount_mg AS BIGINT))), "settled_at" BIGINT, FOREIGN KEY ("mix_id") REFERENCES "mix" ("item_id"), FOREIGN KEY ("container_id") REFERENCES "container" ("item_id"))
-- next
CREATE INDEX "planned_pour_mix_id" ON "planned_pour" ("mix_id")
-- next
CREATE INDEX "planned_pour_container_id" ON "planned_pour" ("container_id")
-- next
CREATE TABLE "ply_laid" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "part_id" BIGINT NOT NULL, "number" INTEGER NOT NULL, "source_id" BIGINT NOT NULL, "angle_deg" DOUBLE PRECISION, "face" TEXT CHECK (face IN ('up', 'down')), "zone" TEXT, "in_order" BOOLEAN NOT NULL, "occurred_at" BIGINT NOT NULL, "deed_id" BIGINT NOT NULL, FOREIGN KEY ("part_id") REFERENCES "part" ("item_id"), FOREIGN KEY ("source_id") REFERENCES "item" ("id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"))
-- next
CREATE INDEX "ply_laid_part_id" ON "ply_laid" ("part_id")
-- next
CREATE INDEX "ply_laid_source_id" ON "ply_laid" ("source_id")
-- next
CREATE INDEX "ply_laid_deed_id" ON "ply_laid" ("deed_id")
-- next
CREATE TABLE "scale" ("item_id" BIGINT NOT NULL PRIMARY KEY, "interval_mg" BIGINT NOT NULL CHECK (interval_mg > 0) CHECK ((interval_mg IS NULL OR interval_mg = CAST(interval_mg AS BIGINT))), "repeatability_mg" BIGINT NOT NULL CHECK (repeatability_mg >= 0) CHECK ((repeatability_mg IS NULL OR repeatability_mg = CAST(repeatability_mg AS BIGINT))), "maximum_mg" BIGINT NOT NULL CHECK (maximum_mg > 0) CHECK ((maximum_mg IS NULL OR maximum_mg = CAST(maximum_mg AS BIGINT))), "check_every_days" INTEGER CHECK (check_every_days > 0), FOREIGN KEY ("item_id") REFERENCES "item" ("id"))
-- next
CREATE TABLE "pour" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "mix_id" BIGINT NOT NULL, "container_id" BIGINT NOT NULL, "movement_id" BIGINT NOT NULL, "component" TEXT NOT NULL, "scale_id" BIGINT NOT NULL, "reading_mg" BIGINT NOT NULL CHECK (reading_mg >= 0) CHECK ((reading_mg IS NULL OR reading_mg = CAST(reading_mg AS BIGINT))), "zeroed" BOOLEAN NOT NULL, "before_mg" BIGINT NOT NULL CHECK ((before_mg IS NULL OR before_mg = CAST(before_mg AS BIGINT))), "emptied_cup_mg" BIGINT, "source" TEXT NOT NULL CHECK (source IN ('typed', 'captured')), "target_mg" BIGINT, "correction" BOOLEAN NOT NULL, "occurred_at" BIGINT NOT NULL, "deed_id" BIGINT NOT NULL, FOREIGN KEY ("mix_id") REFERENCES "mix" ("item_id"), FOREIGN KEY ("container_id") REFERENCES "container" ("item_id"), FOREIGN KEY ("movement_id") REFERENCES "movement" ("id"), FOREIGN KEY ("scale_id") REFERENCES "scale" ("item_id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"))
-- next
CREATE INDEX "pour_mix_id" ON "pour" ("mix_id")
-- next
CREATE INDEX "pour_container_id" ON "pour" ("container_id")
-- next
CREATE UNIQUE INDEX "pour_movement_id" ON "pour" ("movement_id")
-- next
CREATE INDEX "pour_scale_id" ON "pour" ("scale_id")
-- next
CREATE INDEX "pour_deed_id" ON "pour" ("deed_id")
-- next
CREATE TABLE "scale_check" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "scale_id" BIGINT NOT NULL, "weight" TEXT NOT NULL, "nominal_mg" BIGINT NOT NULL CHECK (nominal_mg > 0), "reading_mg" BIGINT NOT NULL CHECK (reading_mg >= 0), "limit_mg" BIGINT NOT NULL CHECK (limit_mg > 0), "passed" BOOLEAN NOT NULL, "occurred_at" BIGINT NOT NULL, "deed_id" BIGINT NOT NULL, FOREIGN KEY ("scale_id") REFERENCES "scale" ("item_id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"))
-- next
CREATE INDEX "scale_check_scale_id" ON "scale_check" ("scale_id")
-- next
CREATE INDEX "scale_check_deed_id" ON "scale_check" ("deed_id")
-- next
CREATE TABLE "shipment" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "part_id" BIGINT NOT NULL, "customer" TEXT NOT NULL, "document" TEXT NOT NULL, "shipped_on" DATE NOT NULL, "deed_id" BIGINT NOT NULL, FOREIGN KEY ("part_id") REFERENCES "part" ("item_id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"))
-- next
CREATE INDEX "shipment_part_id" ON "shipment" ("part_id")
-- next
CREATE INDEX "shipment_deed_id" ON "shipment" ("deed_id")
-- next
CREATE TABLE "state_change" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "item_id" BIGINT NOT NULL, "state" TEXT NOT NULL, "occurred_at" BIGINT NOT NULL, "deed_id" BIGINT NOT NULL, FOREIGN KEY ("item_id") REFERENCES "item" ("id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"))
-- next
CREATE INDEX "state_change_item_id" ON "state_change" ("item_id")
-- next
CREATE INDEX "state_change_deed_id" ON "state_change" ("deed_id")
-- next
CREATE TABLE "stirring" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "mix_id" BIGINT NOT NULL, "started_at" BIGINT NOT NULL, "ended_at" BIGINT NOT NULL, "scraped" BOOLEAN NOT NULL, "second_cup" BOOLEAN NOT NULL, "deed_id" BIGINT NOT NULL, FOREIGN KEY ("mix_id") REFERENCES "mix" ("item_id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"), CHECK (ended_at >= started_at))
-- next
CREATE INDEX "stirring_mix_id" ON "stirring" ("mix_id")
-- next
CREATE INDEX "stirring_deed_id" ON "stirring" ("deed_id")
-- next
CREATE TABLE "storage_reading" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "place_id" BIGINT NOT NULL, "temperature_c" DOUBLE PRECISION NOT NULL, "humidity_pct" DOUBLE PRECISION CHECK (humidity_pct BETWEEN 0 AND 100), "occurred_at" BIGINT NOT NULL, "deed_id" BIGINT NOT NULL, FOREIGN KEY ("place_id") REFERENCES "item" ("id"), FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"))
-- next
CREATE INDEX "storage_reading_deed_id" ON "storage_reading" ("deed_id")
-- next
CREATE INDEX "storage_reading_place_id_occurred_at" ON "storage_reading" ("place_id", "occurred_at")
-- next
CREATE INDEX "storage_reading_place_id_temperature_c_occurred_at" ON "storage_reading" ("place_id", "temperature_c", "occurred_at")
-- next
CREATE TABLE "touched" ("id" BIGSERIAL NOT NULL PRIMARY KEY, "deed_id" BIGINT NOT NULL, "item_id" BIGINT NOT NULL, FOREIGN KEY ("deed_id") REFERENCES "deed" ("id"), FOREIGN KEY ("item_id") REFERENCES "item" ("id"))
-- next
CREATE INDEX "touched_deed_id" ON "touched" ("deed_id")
-- next
CREATE INDEX "touched_item_id" ON "touched" ("item_id")
-- next
CREATE UNIQUE INDEX "touched_item_id_deed_id" ON "touched" ("item_id", "deed_id")
-- next
CREATE OR REPLACE FUNCTION keep_history() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION 'history is added to, never edited'; END $$
-- next
CREATE TRIGGER keep_deed_changed BEFORE UPDATE ON "deed" FOR EACH ROW WHEN (NEW."id" IS DISTINCT FROM OLD."id" OR NEW."operation" IS DISTINCT FROM OLD."operation" OR NEW."person_id" IS DISTINCT FROM OLD."person_id" OR NEW."key_id" IS DISTINCT FROM OLD."key_id" OR NEW."system" IS DISTINCT FROM OLD."system" OR NEW."device" IS DISTINCT FROM OLD."device" OR NEW."site_id" IS DISTINCT FROM OLD."site_id" OR NEW."occurred_at" IS DISTINCT FROM OLD."occurred_at" OR NEW."recorded_at" IS DISTINCT FROM OLD."recorded_at" OR NEW."late" IS DISTINCT FROM OLD."late" OR NEW."why" IS DISTINCT FROM OLD."why" OR NEW."refused" IS DISTINCT FROM OLD."refused" OR (OLD."corrects_id" IS NOT NULL AND NEW."corrects_id" IS DISTINCT FROM OLD."corrects_id")) EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_deed_deleted BEFORE DELETE ON "deed" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_entry_changed BEFORE UPDATE ON "entry" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_entry_deleted BEFORE DELETE ON "entry" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_document_changed BEFORE UPDATE ON "document" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_document_deleted BEFORE DELETE ON "document" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_movement_changed BEFORE UPDATE ON "movement" FOR EACH ROW WHEN (NEW."id" IS DISTINCT FROM OLD."id" OR NEW."source_id" IS DISTINCT FROM OLD."source_id" OR NEW."target_id" IS DISTINCT FROM OLD."target_id" OR NEW."amount" IS DISTINCT FROM OLD."amount" OR NEW."unit" IS DISTINCT FROM OLD."unit" OR NEW."kind" IS DISTINCT FROM OLD."kind" OR NEW."estimated" IS DISTINCT FROM OLD."estimated" OR NEW."purpose" IS DISTINCT FROM OLD."purpose" OR NEW."zone" IS DISTINCT FROM OLD."zone" OR NEW."occurred_at" IS DISTINCT FROM OLD."occurred_at" OR NEW."deed_id" IS DISTINCT FROM OLD."deed_id" OR (OLD."cancelled_by_id" IS NOT NULL AND NEW."cancelled_by_id" IS DISTINCT FROM OLD."cancelled_by_id")) EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_movement_deleted BEFORE DELETE ON "movement" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_state_change_changed BEFORE UPDATE ON "state_change" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_state_change_deleted BEFORE DELETE ON "state_change" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_touched_changed BEFORE UPDATE ON "touched" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_touched_deleted BEFORE DELETE ON "touched" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_made_with_changed BEFORE UPDATE ON "made_with" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_made_with_deleted BEFORE DELETE ON "made_with" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_hold_changed BEFORE UPDATE ON "hold" FOR EACH ROW WHEN (NEW."id" IS DISTINCT FROM OLD."id" OR NEW."item_id" IS DISTINCT FROM OLD."item_id" OR NEW."person_id" IS DISTINCT FROM OLD."person_id" OR NEW."reason" IS DISTINCT FROM OLD."reason" OR NEW."since" IS DISTINCT FROM OLD."since" OR NEW."flag" IS DISTINCT FROM OLD."flag" OR NEW."nonconformance" IS DISTINCT FROM OLD."nonconformance" OR NEW."placed_at" IS DISTINCT FROM OLD."placed_at" OR NEW."placed_by_id" IS DISTINCT FROM OLD."placed_by_id" OR (OLD."lifted_at" IS NOT NULL AND NEW."lifted_at" IS DISTINCT FROM OLD."lifted_at") OR (OLD."lifted_by_id" IS NOT NULL AND NEW."lifted_by_id" IS DISTINCT FROM OLD."lifted_by_id")) EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_hold_deleted BEFORE DELETE ON "hold" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_flag_changed BEFORE UPDATE ON "flag" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_flag_deleted BEFORE DELETE ON "flag" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_label_changed BEFORE UPDATE ON "label" FOR EACH ROW WHEN (NEW."id" IS DISTINCT FROM OLD."id" OR NEW."item_id" IS DISTINCT FROM OLD."item_id" OR NEW."issue" IS DISTINCT FROM OLD."issue" OR NEW."size" IS DISTINCT FROM OLD."size" OR NEW."facts" IS DISTINCT FROM OLD."facts" OR NEW."issued_at" IS DISTINCT FROM OLD."issued_at" OR NEW."deed_id" IS DISTINCT FROM OLD."deed_id" OR (OLD."void_at" IS NOT NULL AND NEW."void_at" IS DISTINCT FROM OLD."void_at") OR (OLD."void_by_id" IS NOT NULL AND NEW."void_by_id" IS DISTINCT FROM OLD."void_by_id")) EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_label_deleted BEFORE DELETE ON "label" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_receipt_changed BEFORE UPDATE ON "receipt" FOR EACH ROW WHEN (NEW."id" IS DISTINCT FROM OLD."id" OR NEW."lot_id" IS DISTINCT FROM OLD."lot_id" OR NEW."kind" IS DISTINCT FROM OLD."kind" OR NEW."supplier_id" IS DISTINCT FROM OLD."supplier_id" OR NEW."delivery_note" IS DISTINCT FROM OLD."delivery_note" OR NEW."place_id" IS DISTINCT FROM OLD."place_id" OR NEW."amount" IS DISTINCT FROM OLD."amount" OR NEW."received_at" IS DISTINCT FROM OLD."received_at" OR NEW."remark" IS DISTINCT FROM OLD."remark" OR NEW."deed_id" IS DISTINCT FROM OLD."deed_id" OR (OLD."released_in_id" IS NOT NULL AND NEW."released_in_id" IS DISTINCT FROM OLD."released_in_id")) EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_receipt_deleted BEFORE DELETE ON "receipt" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_certificate_changed BEFORE UPDATE ON "certificate" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_certificate_deleted BEFORE DELETE ON "certificate" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_incoming_check_changed BEFORE UPDATE ON "incoming_check" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_incoming_check_deleted BEFORE DELETE ON "incoming_check" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_storage_reading_changed BEFORE UPDATE ON "storage_reading" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_storage_reading_deleted BEFORE DELETE ON "storage_reading" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_scale_check_changed BEFORE UPDATE ON "scale_check" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_scale_check_deleted BEFORE DELETE ON "scale_check" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_pour_changed BEFORE UPDATE ON "pour" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_pour_deleted BEFORE DELETE ON "pour" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_planned_pour_changed BEFORE UPDATE ON "planned_pour" FOR EACH ROW WHEN (NEW."id" IS DISTINCT FROM OLD."id" OR NEW."mix_id" IS DISTINCT FROM OLD."mix_id" OR NEW."container_id" IS DISTINCT FROM OLD."container_id" OR NEW."component" IS DISTINCT FROM OLD."component" OR NEW."amount_mg" IS DISTINCT FROM OLD."amount_mg" OR (OLD."settled_at" IS NOT NULL AND NEW."settled_at" IS DISTINCT FROM OLD."settled_at")) EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_planned_pour_deleted BEFORE DELETE ON "planned_pour" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_stirring_changed BEFORE UPDATE ON "stirring" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_stirring_deleted BEFORE DELETE ON "stirring" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_closing_changed BEFORE UPDATE ON "closing" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_closing_deleted BEFORE DELETE ON "closing" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_cup_check_changed BEFORE UPDATE ON "cup_check" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_cup_check_deleted BEFORE DELETE ON "cup_check" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_mould_treatment_changed BEFORE UPDATE ON "mould_treatment" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_mould_treatment_deleted BEFORE DELETE ON "mould_treatment" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_cut_changed BEFORE UPDATE ON "cut" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_cut_deleted BEFORE DELETE ON "cut" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_ply_laid_changed BEFORE UPDATE ON "ply_laid" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_ply_laid_deleted BEFORE DELETE ON "ply_laid" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_part_step_changed BEFORE UPDATE ON "part_step" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_part_step_deleted BEFORE DELETE ON "part_step" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_inspection_changed BEFORE UPDATE ON "inspection" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_inspection_deleted BEFORE DELETE ON "inspection" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_defect_changed BEFORE UPDATE ON "defect" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_defect_deleted BEFORE DELETE ON "defect" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_nonconformance_changed BEFORE UPDATE ON "nonconformance" FOR EACH ROW WHEN (NEW."id" IS DISTINCT FROM OLD."id" OR NEW."item_id" IS DISTINCT FROM OLD."item_id" OR NEW."found" IS DISTINCT FROM OLD."found" OR NEW."in_service" IS DISTINCT FROM OLD."in_service" OR NEW."failed" IS DISTINCT FROM OLD."failed" OR NEW."opened_at" IS DISTINCT FROM OLD."opened_at" OR NEW."opened_by_id" IS DISTINCT FROM OLD."opened_by_id" OR NEW."deed_id" IS DISTINCT FROM OLD."deed_id" OR (OLD."disposition" IS NOT NULL AND NEW."disposition" IS DISTINCT FROM OLD."disposition") OR (OLD."decided_because" IS NOT NULL AND NEW."decided_because" IS DISTINCT FROM OLD."decided_because") OR (OLD."decided_at" IS NOT NULL AND NEW."decided_at" IS DISTINCT FROM OLD."decided_at") OR (OLD."decided_by_id" IS NOT NULL AND NEW."decided_by_id" IS DISTINCT FROM OLD."decided_by_id") OR (OLD."decided_in_id" IS NOT NULL AND NEW."decided_in_id" IS DISTINCT FROM OLD."decided_in_id")) EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_nonconformance_deleted BEFORE DELETE ON "nonconformance" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_shipment_changed BEFORE UPDATE ON "shipment" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_shipment_deleted BEFORE DELETE ON "shipment" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_cure_log_changed BEFORE UPDATE ON "cure_log" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_cure_log_deleted BEFORE DELETE ON "cure_log" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_cure_reading_changed BEFORE UPDATE ON "cure_reading" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
CREATE TRIGGER keep_cure_reading_deleted BEFORE DELETE ON "cure_reading" FOR EACH ROW EXECUTE FUNCTION keep_history()
-- next
INSERT INTO head (id, seq, hash) VALUES (1, 0, '')
