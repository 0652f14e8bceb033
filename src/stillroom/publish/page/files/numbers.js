// Numbers and words as the lab writes them: no more digits than the interval allows, true minus, groups of three.
// The same rules as the lab's own `wording`; a test holds the two against each other.
'use strict';

var Stillroom = window.Stillroom || {};
window.Stillroom = Stillroom;

Stillroom.words = (function () {
  var NO_BREAK = '\u00a0';
  var MINUS = '\u2212';
  var COUNTS = ['no', 'one', 'two', 'three', 'four', 'five', 'six', 'seven', 'eight', 'nine', 'ten', 'eleven',
    'twelve'];

  /**
   * The decimal place that an interval of this half-width allows (1 = tenths, −1 = tens).
   * @param {number} half half-width of the interval, in the unit shown
   * @returns {number}
   */
  function placesFor(half) {
    if (!(half > 0) || !isFinite(half)) throw new RangeError('half-width of an interval: ' + half);
    var parts = half.toExponential(1).split('e');
    return (parseFloat(parts[0]) < 3 ? 1 : 0) - parseInt(parts[1], 10);
  }

  /**
   * A number without sign at a decimal place; halves that are exact go to the even neighbour.
   * @param {number} size not negative
   * @param {number} places
   * @returns {string}
   */
  function fixed(size, places) {
    if (places < 0) {
      var step = Math.pow(10, -places);
      return (evenly(size / step) * step).toFixed(0);
    }
    if (Number.isInteger(size * Math.pow(2, places + 1))) {
      var scale = Math.pow(10, places);
      return (evenly(size * scale) / scale).toFixed(places);
    }
    return size.toFixed(places);
  }

  /** @param {number} size @returns {number} */
  function evenly(size) {
    var whole = Math.floor(size);
    var rest = size - whole;
    if (rest === 0.5) return whole + (whole % 2);
    return rest < 0.5 ? whole : whole + 1;
  }

  /**
   * A number in print.
   * @param {number} value in the unit shown
   * @param {number} [places] decimals; negative ones round to tens, hundreds …
   * @returns {string}
   */
  function number(value, places) {
    var parts = fixed(Math.abs(value), places || 0).split('.');
    var whole = parts[0].replace(/\B(?=(\d{3})+$)/g, ',');
    var text = parts.length > 1 ? whole + '.' + parts[1] : whole;
    return (value < 0 && /[1-9]/.test(text) ? MINUS : '') + text;
  }

  /**
   * A number without an interval: three significant digits.
   * @param {number} value
   * @returns {string}
   */
  function bare(value) {
    if (value === 0) return '0';
    return number(value, 2 - parseInt(value.toExponential(2).split('e')[1], 10));
  }

  /** A number that needs no more than two significant digits, such as a margin. @param {number} value */
  function coarse(value) {
    return value === 0 ? '0' : number(value, 1 - parseInt(value.toExponential(1).split('e')[1], 10));
  }

  /** @param {number|null} low @param {number|null} high @returns {boolean} */
  function isInterval(low, high) {
    return low !== null && high !== null && isFinite(low) && isFinite(high) && low !== high;
  }

  /**
   * A value to the place that its interval allows.
   * @param {number} value @param {number|null} low @param {number|null} high
   * @returns {string}
   */
  function rounded(value, low, high) {
    if (low === null || high === null || !isInterval(low, high)) return bare(value);
    return number(value, placesFor((high - low) / 2));
  }

  /**
   * The interval beside a value: "46.9 to 49.5", "no interval"; an open end is said.
   * @param {number|null} low @param {number|null} high
   * @returns {string}
   */
  function interval(low, high) {
    if (low !== null && high !== null && isInterval(low, high)) {
      var places = placesFor((high - low) / 2);
      return number(low, places) + ' to ' + number(high, places);
    }
    if (low !== null && isFinite(low) && (high === null || !isFinite(high))) return 'at least ' + bare(low);
    if (high !== null && isFinite(high) && (low === null || !isFinite(low))) return 'at most ' + bare(high);
    return 'no interval';
  }

  /** A range of values: "39 to 48 m³/h". @param {number} low @param {number} high @param {string} unit */
  function spread(low, high, unit) {
    if (low === high) return withUnit(bare(low), unit);
    var places = placesFor((high - low) / 2);
    return number(low, places) + ' to ' + withUnit(number(high, places), unit);
  }

  /** @param {string} words @param {string} unit @returns {string} */
  function withUnit(words, unit) {
    return unit === '' || unit === '1' ? words : words + NO_BREAK + unit;
  }

  /** @param {number} amount @returns {string} */
  function count(amount) {
    return amount >= 0 && amount < COUNTS.length ? COUNTS[amount] : number(amount);
  }

  /** @param {number} amount @param {string} one @returns {string} */
  function plural(amount, one) {
    return count(amount) + ' ' + (amount === 1 ? one : one + 's');
  }

  /**
   * A name that may stand in a sentence: right-to-left letters don't turn the sentence.
   * @param {string} name @returns {string}
   */
  function isolate(name) {
    return /[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc]/.test(name) ? '\u2068' + name + '\u2069' : name;
  }

  /**
   * Names as a sentence lists them; beyond `most` the rest are counted.
   * @param {string[]} items @param {number} [most]
   * @returns {string}
   */
  function listed(items, most) {
    var names = items.map(isolate);
    if (most && names.length > most) {
      var rest = names.length - most + 1;
      names = names.slice(0, most - 1).concat(count(rest) + ' more');
    }
    if (names.length < 2) return names.join('');
    return names.slice(0, -1).join(', ') + ' and ' + names[names.length - 1];
  }

  /** @param {string} words @returns {string} */
  function sentence(words) {
    words = words.trim();
    if (!words) return '';
    return words[0].toUpperCase() + words.slice(1) + (/[.?!]$/.test(words) ? '' : '.');
  }

  /** With a full stop, as it is otherwise. @param {string} words @returns {string} */
  function stopped(words) { return words + (/[.?!]$/.test(words) ? '' : '.'); }

  /** @param {[number, number]|null|undefined} rank @returns {string} */
  function places(rank) {
    if (!rank) return 'none';
    return rank[0] === rank[1] ? String(rank[0]) : rank[0] + ' to ' + rank[1];
  }

  return {
    placesFor: placesFor, number: number, bare: bare, coarse: coarse, rounded: rounded, interval: interval, spread: spread, withUnit: withUnit,
    count: count, plural: plural, isolate: isolate, listed: listed, sentence: sentence, stopped: stopped, places: places,
    isInterval: isInterval, NO_BREAK: NO_BREAK, MINUS: MINUS
  };
})();
