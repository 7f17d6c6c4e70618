/** The page's own words on the measuring and verdict screens and in the pictures. */
export const measuringEn = {
  conductor: 'Conductor',
};
