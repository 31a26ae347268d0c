export const stimulus = {
  title: 'Stimulus',
  lead: 'The field of this rig before anything lies in the sea: turn the knobs, and see how far it reaches.',
};
