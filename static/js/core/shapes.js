/** Outlines in a 24 x 24 square that both the icons and the map draw: a stage has one shape wherever it is shown. */

export const STAGE_SHAPES = {
  marked: 'M12 4.5a7.5 7.5 0 1 0 0 15 7.5 7.5 0 0 0 0-15Z',
  lifted: 'M4.5 5h15L12 19.5Z',
  settling: 'M5 5.5h14v13H5Z',
  gaining: 'M12 3.5 20.5 12 12 20.5 3.5 12Z',
  working: 'M12 4a8 8 0 1 0 0 16 8 8 0 0 0 0-16Z', // filled: the only solid one
  lost: 'm5 5 14 14M19 5 5 19',
  parted: 'M4 12h15M13 6l6 6-6 6',
  left_standing: 'M12 3.5v13M6 20.5h12M12 9 7.5 6M12 12.5l4.5-3.5',
};

export const MAP_MARKS = {
  north: 'M12 2.5 17 20l-5-3.5L7 20ZM12 3v13.2',
  plus: 'M12 4.5v15M4.5 12h15',
  minus: 'M4.5 12h15',
  all: 'M4 9V4h5M15 4h5v5M20 15v5h-5M9 20H4v-5',
  place: 'M12 22.2C8.7 17.5 6 14 6 9.8a6 6 0 0 1 12 0c0 4.2-2.7 7.7-6 12.4ZM12 7.6a2.2 2.2 0 1 0 0 4.4 2.2 2.2 0 0 0 0-4.4Z',
  me: 'M12 5.5a6.5 6.5 0 1 0 0 13 6.5 6.5 0 0 0 0-13ZM12 2v5M12 17v5M2 12h5M17 12h5',
};
