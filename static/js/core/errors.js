/** What cannot be used, as one clear sentence with its cure and its place. Twin of field/core/errors.py. */

/** Input that cannot be used; nothing was changed. */
export class BadInput extends Error {
  /**
   * @param {string} message one full sentence
   * @param {string|null} cure what the person can do about it
   * @param {string|null} where the place of the fault in the input: 'here.lat'
   * @param {string} code short lower-case fact with hyphens
   */
  constructor(message, cure = null, where = null, code = 'bad-input') {
    super(message);
    this.name = 'BadInput';
    this.code = code;
    this.cure = cure;
    this.where = where;
  }

  /** The one error shape of the server, the command line and the phone. */
  asJson() {
    return { error: { code: this.code, message: this.message, cure: this.cure, where: this.where } };
  }
}

/** A boundary or area that is no usable Polygon or MultiPolygon. */
export class BadShape extends BadInput {
  constructor(message, cure = null, where = null, code = 'bad-shape') {
    super(message, cure, where, code);
    this.name = 'BadShape';
  }
}
