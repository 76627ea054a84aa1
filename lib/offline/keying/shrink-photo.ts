/** Longest side of a photo as it is kept, px, and the qualities tried until it is small enough. */
const LONGEST_PX = 1600;
const QUALITIES = [0.8, 0.6, 0.4];
const MOST_BYTES = 1_500_000;

function jpegOf(canvas: HTMLCanvasElement, quality: number): Promise<Blob | null> {
  return new Promise((done) => canvas.toBlob(done, "image/jpeg", quality));
}

/**
 * Draws a photo anew, small: only the picture goes through the canvas, so that the place and everything else the camera wrote
 * into the file stay behind.
 *
 * @returns null where the file is no picture that this browser can read
 */
export async function shrinkPhoto(file: Blob): Promise<Blob | null> {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" }).catch(() => null);
  if (picture === null) return null;
  const scale = Math.min(1, LONGEST_PX / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(picture.width * scale));
  canvas.height = Math.max(1, Math.round(picture.height * scale));
  canvas.getContext("2d")?.drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  for (const quality of QUALITIES) {
    const small = await jpegOf(canvas, quality);
    if (small !== null && small.size <= MOST_BYTES) return small;
  }
  return null;
}
