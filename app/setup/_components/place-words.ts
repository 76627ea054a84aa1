const WORDS: Readonly<Record<string, string>> = {
  key: "key",
  title: "title",
  invented: "limits are a proposal",
  nominalBoreMm: "bore, nominal, mm",
  seatDepthMm: "seat depth, mm",
  widthMm: "shell width, mm",
  shellOutsideDiameterMm: "shell outside diameter, mm",
  faceOutsideDiameterMm: "face outside diameter, mm",
  faceSweepDiameterMm: "face indicator runs on diameter, mm",
  faceLimitDiameterMm: "face limit holds at diameter, mm",
  shellMaterial: "shell material",
  decisionRule: "decision rule",
  nonconformingFractionLimit: "nonconforming fraction of a sampled batch, at most",
  fullPlanDepthsMm: "measured section, depth in mm",
  characteristics: "",
  carries: "",
  bearing: "bearing",
  cup: "cup",
  lower: "lower limit",
  upper: "upper limit",
  target: "target",
  uncertainty: "U (k = 2)",
  critical: "critical",
  designation: "designation",
  boreMm: "bore, mm",
  outsideDiameterMm: "outside diameter, mm",
  wallMm: "wall, mm",
  ballDiameterMm: "ball diameter, mm",
  clearanceClass: "clearance class",
  clearanceUm: "radial clearance, µm, value",
  outsideDeviationUm: "outside deviation, µm, value",
  material: "material",
  youngsModulusGpa: "Young's modulus, GPa",
  poissonsRatio: "Poisson's ratio",
  expansionPerMegakelvin: "expansion, 1e-6/K",
  name: "name",
};

/** A place in a drawing in words: "characteristics.bore.upper" -> "bore, upper limit". */
export function placeWords(path: string): string {
  const parts = path.split(".").map((part) => WORDS[part] ?? part);
  return parts.filter((part) => part !== "").join(", ");
}
