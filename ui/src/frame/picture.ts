/** Longer side of a photo that is sent, pixels; the program makes it no larger either. */
const LONGEST = 1600;

/** A picture as base64, made smaller here where the browser can: a phone's photo is ten times what is kept. */
export async function smaller(file: Blob, longest = LONGEST): Promise<string> {
  const made = await shrunk(file, longest);
  return base64(made ?? file);
}

/** `null` where there is no canvas; an unreadable picture is an error. */
async function shrunk(file: Blob, longest: number): Promise<Blob | null> {
  if (typeof createImageBitmap !== 'function') return null;
  const picture = await createImageBitmap(file);
  const scale = Math.min(1, longest / Math.max(picture.width, picture.height));
  const canvas = document.createElement('canvas');
  [canvas.width, canvas.height] = [Math.round(picture.width * scale), Math.round(picture.height * scale)];
  const pen = canvas.getContext('2d');
  if (pen === null) return null;
  pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
  return new Promise((done) => canvas.toBlob(done, 'image/jpeg', 0.9));
}

/** Its bytes as they are. */
export async function base64(blob: Blob): Promise<string> {
  const bytes = new Uint8Array(await blob.arrayBuffer());
  let text = '';
  for (let at = 0; at < bytes.length; at += 0x8000) text += String.fromCharCode(...bytes.subarray(at, at + 0x8000));
  return btoa(text);
}
