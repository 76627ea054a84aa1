-- Gauges gain a measuring range and a repeatability, readings the states "off the scale". A running older version goes on: the columns are empty where nobody fills them, and it writes none of the new states.

-- AlterTable
ALTER TABLE "gauge" ADD COLUMN     "range_lower" DOUBLE PRECISION,
ADD COLUMN     "range_upper" DOUBLE PRECISION,
ADD COLUMN     "repeatability_um" DOUBLE PRECISION;

-- The gauges of earlier plants keep an unknown range: what a gauge can show is read from it, never guessed.
ALTER TABLE "gauge"
  ADD CONSTRAINT "gauge_range_whole" CHECK (num_nonnulls("range_lower", "range_upper") IN (0, 2)),
  ADD CONSTRAINT "gauge_range_order" CHECK ("range_lower" IS NULL OR "range_lower" < "range_upper"),
  ADD CONSTRAINT "gauge_range_finite" CHECK ("all_finite"(ARRAY["range_lower", "range_upper", "repeatability_um"])),
  ADD CONSTRAINT "gauge_repeatability_not_negative" CHECK ("repeatability_um" IS NULL OR "repeatability_um" >= 0);

-- 3 is off the scale, large; 4 is off the scale, small: neither has a value.
ALTER TABLE "inspection" DROP CONSTRAINT "inspection_states_known";
ALTER TABLE "inspection" ADD CONSTRAINT "inspection_states_known" CHECK ("states" <@ ARRAY[0, 1, 2, 3, 4]::SMALLINT[]);
