/** Footage, part Camera: the cameras of the study and where they stood. */
export const footageCamera = {
  title: 'Where the camera was',
};
