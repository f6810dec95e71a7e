/**
 * A picture made small enough to be kept with a session: at most 1,600 pixels long, JPEG. Drawing it anew also leaves behind what a phone
 * writes into a picture, such as where it was taken.
 */

const LONGEST_EDGE = 1600;
/** The service takes up to 1 MB. */
const MOST_BYTES = 900_000;
const QUALITIES = [0.82, 0.7, 0.5];

/** @returns null when the browser can't read it */
export async function smallPicture(file: Blob): Promise<Blob | null> {
  const picture = await createImageBitmap(file, { imageOrientation: 'from-image' }).catch(() => null);
  if (picture === null) return null;
  const scale = Math.min(1, LONGEST_EDGE / Math.max(picture.width, picture.height));
  const canvas = document.createElement('canvas');
  canvas.width = Math.max(1, Math.round(picture.width * scale));
  canvas.height = Math.max(1, Math.round(picture.height * scale));
  const brush = canvas.getContext('2d')!;
  // What is transparent would turn black.
  brush.fillStyle = 'white';
  brush.fillRect(0, 0, canvas.width, canvas.height);
  brush.drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  for (const quality of QUALITIES) {
    const jpeg = await new Promise<Blob | null>((done) => canvas.toBlob(done, 'image/jpeg', quality));
    if (jpeg !== null && jpeg.size <= MOST_BYTES) return jpeg;
  }
  return null;
}
