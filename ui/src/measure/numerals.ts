/**
 * The numerals of the live display, drawn as single strokes in a box 56 wide and 100 high. Our own, so that
 * digits have the same width and height on every device and never jump sideways.
 */
const strokes: Record<string, string> = {
  '0': 'M28 7C40 7 49 17 49 32V68C49 83 40 93 28 93S7 83 7 68V32C7 17 16 7 28 7Z',
  '1': 'M12 24L31 9V93',
  '2': 'M8 29C8 15 17 7 28 7S48 15 48 28C48 39 41 46 33 55L8 92H51',
  '3': 'M8 23C11 13 18 7 28 7C39 7 47 15 47 26S39 46 28 46H21M28 46C40 46 49 55 49 69C49 84 40 93 28 93C17 93 9 87 7 76',
  '4': 'M39 93V9L6 68H53',
  '5': 'M47 8H14L11 47C15 41 21 38 28 38C41 38 49 49 49 65C49 82 41 93 28 93C17 93 9 87 7 77',
  '6': 'M46 18C42 11 36 7 29 7C15 7 7 24 7 52C7 79 15 93 28 93C41 93 49 82 49 67S41 42 29 42C18 42 9 49 7 62',
  '7': 'M7 8H50L22 93',
  '8': 'M28 46C17 46 10 38 10 26S17 7 28 7S46 15 46 26S39 46 28 46ZM28 46C15 46 7 55 7 69S15 93 28 93S49 83 49 69S41 46 28 46Z',
  '9': 'M10 82C14 89 20 93 27 93C41 93 49 76 49 48C49 21 41 7 28 7C15 7 7 18 7 33S15 58 27 58C38 58 47 51 49 38',
  O: 'M28 7C40 7 49 17 49 32V68C49 83 40 93 28 93S7 83 7 68V32C7 17 16 7 28 7Z',
  L: 'M9 7V92H50',
  '-': 'M10 51H46',
  '−': 'M10 51H46',
};

/** One sign of the display: its stroke, or none for a sign that is not drawn here and is set as type. */
export interface Numeral {
  sign: string;
  /** From the left edge of the first sign. */
  x: number;
  stroke: string | null;
  isPoint: boolean;
}

const digitAdvance = 66;
const pointAdvance = 28;
/** Height of the box; the numerals fill it. */
export const numeralHeight = 100;

/** Sets a display's text in numerals; its width comes with it. */
export function setNumerals(text: string): { numerals: Numeral[]; width: number } {
  let x = 0;
  const numerals = [...text].map((sign) => {
    const isPoint = sign === '.' || sign === ',';
    const numeral = { sign, x, stroke: strokes[sign] ?? null, isPoint };
    x += isPoint ? pointAdvance : digitAdvance;
    return numeral;
  });
  return { numerals, width: Math.max(x - 10, 1) };
}
