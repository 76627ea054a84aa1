import "server-only";
import { AppError } from "@/lib/errors";
import { nameProblemText, toldGeometry, type ToldGeometry } from "@/lib/format/geometry-words";
import { findDemonstrationDrawing } from "@/lib/quality/demonstration-drawings";
import { geometryAnswer, nameProblems } from "@/lib/quality/geometry-answer";
import type { GeometryRequest } from "@/lib/schemas/geometry";
import { GEOMETRY_WORDS } from "./words";

const words = GEOMETRY_WORDS.answerGeometry;

function drawingOf({ drawing }: GeometryRequest) {
  const found = typeof drawing === "string" ? findDemonstrationDrawing(drawing) : drawing;
  if (found) return found;
  throw new AppError("not-found", words.isNoDemonstrationDrawing, {
    fields: [{ path: "drawing", message: words.mustBePressFit41 }],
  });
}

/**
 * What the readings of one shell mean, by the same core as everything else. Stores nothing.
 *
 * @throws AppError not-found for an unknown drawing, invalid-input for names that are none; CoreError
 */
export function answerGeometry(body: GeometryRequest): ToldGeometry {
  const { readings, plugs, bar, bars, gauges, seenFrom, temperatureC, monteCarlo } = body;
  const drawing = drawingOf(body);
  const felt = {
    ...(plugs === undefined ? {} : { plugs }),
    ...(bar === undefined ? {} : { bar }),
    ...(bars === undefined ? {} : { bars }),
  };
  if ([readings, plugs ?? {}, bars ?? {}].every((given) => Object.keys(given).length === 0) && bar === undefined)
    throw new AppError("invalid-input", words.nothingWasAsked, {
      fields: [{ path: "readings", message: words.mustHaveAtLeast }],
    });
  const problems = nameProblems({ drawing, readings, ...felt });
  const [first] = problems;
  if (first !== undefined)
    throw new AppError("invalid-input", words.nothingWasComputed(nameProblemText(first)), {
      fields: problems.slice(0, 50).map((one) => ({ path: `readings.${one.name}`, message: nameProblemText(one) })),
    });
  const answer = geometryAnswer({
    drawing,
    readings,
    temperatureC,
    ...felt,
    ...(gauges === undefined ? {} : { gauges }),
    ...(monteCarlo === undefined ? {} : { monteCarlo }),
  });
  return toldGeometry(answer, seenFrom);
}
