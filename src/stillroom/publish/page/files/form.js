// The form: shows the settings, and tells what the reader changes in them.
'use strict';

Stillroom.form = (function () {
  var P = Stillroom.parts;
  var S = Stillroom.settings;
  /** @type {Object<string, any>} */
  var at = {};
  var IDS = ['form', 'limit', 'limit-number', 'limit-where', 'full', 'size', 'size-label', 'through', 'own-one', 'own-two',
    'told-resistance', 'told-a', 'told-b', 'unit-a', 'unit-b', 'own-error', 'more', 'ceiling', 'currency', 'fans',
    'tiled', 'tiled-row', 'only', 'flow', 'pressure', 'reset'];

  /**
   * @param {any} est @param {any} release
   * @param {(change: Object<string, *>, isDone: boolean) => void} tell what changed; whether the reader has let go
   */
  function start(est, release, tell) {
    IDS.forEach(function (id) { at[id] = document.getElementById(id); });
    at.form.addEventListener('submit', function (/** @type {Event} */ event) { event.preventDefault(); });
    choices(est, release);
    noise(est, tell);
    listen('size', function () { return { size: parseFloat(at.size.value) }; }, tell);
    listen('through', function () { return { through: at.through.value }; }, tell);
    listen('told-resistance', function () { return { told: at['told-resistance'].value }; }, tell);
    ['told-a', 'told-b'].forEach(function (id) {
      listen(id, function () { return { ab: [at['told-a'].value, at['told-b'].value] }; }, tell);
    });
    listen('full', function () { return { full: at.full.checked }; }, tell);
    listen('tiled', function () { return { tiled: at.tiled.checked }; }, tell);
    listen('only', function () { return { only: at.only.value }; }, tell);
    listen('flow', function () { return { flow: at.flow.value }; }, tell);
    listen('pressure', function () { return { pressure: at.pressure.value }; }, tell);
    listen('ceiling', function () {
      var value = S.numeral(at.ceiling.value);
      return at.ceiling.value.trim() === '' ? { ceiling: null } : S.within(value, 0, 1e6) ? { ceiling: value } : {};
    }, tell);
    listen('fans', function () {
      var value = S.numeral(at.fans.value);
      return S.within(value, 1, S.MOST_FANS) && Number.isInteger(value) ? { fans: value } : {};
    }, tell);
    at.reset.addEventListener('click', function () { tell(S.usual(est, release), true); });
  }

  /** @param {string} id @param {() => Object<string, *>} read @param {(change: any, isDone: boolean) => void} tell */
  function listen(id, read, tell) {
    at[id].addEventListener('input', function () { tell(read(), false); });
    at[id].addEventListener('change', function () { tell(read(), true); });
  }

  /** @param {any} est @param {any} release */
  function choices(est, release) {
    P.fill(at.size, {}, est.sizes.map(function (/** @type {number} */ each) {
      return P.el('option', { value: each }, Stillroom.words.withUnit(String(each), 'mm'));
    }));
    at.size.hidden = at['size-label'].hidden = !est.sizes.length;
    var rows = est.obstacles.filter(function (/** @type {any} */ each) { return each.name !== ''; });
    P.fill(at.through, {}, [P.el('option', { value: '' }, 'nothing: free air')].concat(
      rows.map(function (/** @type {any} */ each) { return P.el('option', { value: each.name }, each.told || each.words); }),
      [P.el('option', { value: S.OWN }, 'my own: a pressure at a flow …'),
        P.el('option', { value: S.COEFFICIENTS }, 'my own: coefficients a and b …')]));
    ['flow', 'pressure'].forEach(function (kind) {
      P.fill(at[kind], {}, release.units[kind].map(function (/** @type {any} */ each) {
        return P.el('option', { value: each.symbol }, each.symbol);
      }));
    });
    var currencies = est.fans.map(function (/** @type {any} */ each) { return each.price && each.price.currency; }).filter(Boolean);
    P.say(at.currency, currencies[0] || '');
    at.ceiling.disabled = !currencies.length;
    if (!currencies.length) at.ceiling.placeholder = 'no prices in this release';
    at.fans.max = S.MOST_FANS;
  }

  /** The slider and the field beside it say one number. @param {any} est @param {any} tell */
  function noise(est, tell) {
    if (!S.hasLimits(est)) {
      [at.limit, at['limit-number'], at.full].forEach(function (input) { input.disabled = true; });
      P.say(at['limit-where'], 'No sound was measured in this release.');
      return;
    }
    [at.limit, at['limit-number']].forEach(function (input) {
      input.min = est.limits.low;
      input.max = est.limits.high;
      input.step = 0.5;
    });
    P.say(at['limit-where'], (Stillroom.conditions.distance(est) ? 'A-weighted, ' + Stillroom.conditions.distance(est) + ' from the fan. ' : '') +
      'Measured from ' + est.limits.low + ' to ' + est.limits.high + '\u00a0dBA.');
    listen('limit', function () { return { limit: parseFloat(at.limit.value), full: false }; }, tell);
    listen('limit-number', function () {
      var value = S.numeral(at['limit-number'].value);
      var is = S.within(value, est.limits.low, est.limits.high);
      P.set(at['limit-number'], 'aria-invalid', is ? 'false' : 'true');
      return is ? { limit: value, full: false } : {};
    }, tell);
    at['limit-number'].addEventListener('blur', function () {
      at['limit-number'].value = at.limit.value;
      P.set(at['limit-number'], 'aria-invalid', 'false');
    });
  }

  /** Show settings, but leave the field alone in which the reader is writing. @param {any} s @param {any} release */
  function show(s, release) {
    value('limit', String(s.limit));
    P.set(at.limit, 'aria-valuetext', (s.full ? 'full speed, limit off; ' : '') + s.limit + ' decibels A');
    value('limit-number', String(s.limit));
    at.form.classList.toggle('is-full', s.full);
    at.full.checked = s.full;
    value('size', String(s.size));
    value('through', s.through);
    value('told-resistance', s.told);
    value('told-a', s.ab[0]);
    value('told-b', s.ab[1]);
    at['own-one'].hidden = s.through !== S.OWN;
    at['own-two'].hidden = s.through !== S.COEFFICIENTS;
    P.say(at['unit-a'], s.pressure + ' per ' + s.flow);
    P.say(at['unit-b'], s.pressure + ' per (' + s.flow + ')²');
    wrong(s, release);
    value('ceiling', s.ceiling === null ? '' : String(s.ceiling));
    value('fans', String(s.fans));
    at['tiled-row'].hidden = s.fans < 2;
    at.tiled.checked = s.tiled;
    value('only', s.only);
    value('flow', s.flow);
    value('pressure', s.pressure);
    if (s.ceiling !== null || s.fans > 1 || s.only) at.more.open = true;
  }

  /** What is wrong with a resistance of one's own, beside its field. @param {any} s @param {any} release */
  function wrong(s, release) {
    var found = null;
    if (s.through === S.OWN && s.told.trim()) found = S.resistance(s.told, release);
    if (s.through === S.COEFFICIENTS && (s.ab[0] + s.ab[1]).trim()) found = S.coefficients(s.ab, release, s);
    var words = typeof found === 'string' ? found : '';
    P.say(at['own-error'], words);
    ['told-resistance', 'told-a', 'told-b'].forEach(function (id) { P.set(at[id], 'aria-invalid', words ? 'true' : 'false'); });
  }

  /** @param {string} id @param {string} words */
  function value(id, words) {
    if (document.activeElement === at[id] && at[id].type !== 'range' && at[id].tagName !== 'SELECT') return;
    if (at[id].value !== words) at[id].value = words;
  }

  return { start: start, show: show };
})();
