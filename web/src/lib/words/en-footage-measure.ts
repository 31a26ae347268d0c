/** Footage, part Measure: the fixes of a pass and the track that they make. */
export const footageMeasure = {
  title: 'Measure a pass',
};
