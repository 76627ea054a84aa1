-- By which version of the computations a frame's stored verdict was made; a running older version leaves it as it is and goes on.

-- AlterTable
ALTER TABLE "frame" ADD COLUMN "judged_by" TEXT;
