// The page: which view, which settings, what is announced. All of it stands in the link.
'use strict';

(function () {
  var P = Stillroom.parts;
  var S = Stillroom.settings;
  var QUIET = 700;
  var TOGETHER = 1500;
  /** @param {string} id */
  function at(id) { return /** @type {any} */ (document.getElementById(id)); }
  /** @type {any} */ var est;
  /** @type {any} */ var release;
  /** @type {any} */ var settings;
  var view = { name: 'choose', one: '', two: '' };
  var spoken = 0;
  var resizing = 0;
  var lastPush = { field: '', time: -TOGETHER };

  // --- the link ------------------------------------------------------------------------------------------------

  /** A link to a place in the page with settings. @param {string} place @param {any} s */
  function link(place, s) {
    var said = S.asLink(s, est, release);
    return '#' + place + (said ? '?' + said : '');
  }

  /** @param {string} text */
  function decoded(text) {
    try { return decodeURIComponent(text); } catch (error) { return ''; }
  }

  /** View and settings as a link tells them; what it tells wrongly is the usual. */
  function read() {
    var parts = window.location.hash.replace(/^#/, '').split('?');
    var place = parts[0].split('/').map(decoded);
    settings = S.fromLink(parts.slice(1).join('?'), est, release);
    view = { name: 'choose', one: '', two: '' };
    if (place[0] === 'fan' && known(place[1])) view = { name: 'fan', one: place[1], two: '' };
    if (place[0] === 'compare') view = { name: 'pair', one: known(place[1]) ? place[1] : '', two: known(place[2]) ? place[2] : '' };
  }

  /** @param {string} name */
  function known(name) {
    return est.fans.filter(function (/** @type {any} */ each) { return each.name === name; })[0] || null;
  }

  function place() {
    if (view.name === 'fan') return 'fan/' + encodeURIComponent(view.one);
    if (view.name === 'pair') return 'compare/' + encodeURIComponent(view.one) + '/' + encodeURIComponent(view.two);
    return 'choose';
  }

  /** Put view and settings into the link; a new entry of the history, or the same one again. @param {boolean} isNew */
  function write(isNew) {
    var wanted = link(place(), settings);
    if (wanted === window.location.hash) return;
    try {
      if (isNew) window.history.pushState(null, '', wanted);
      else window.history.replaceState(null, '', wanted);
    } catch (error) {
      window.location.replace(wanted);  // where a browser keeps a file's history to itself
    }
  }

  // --- what changes --------------------------------------------------------------------------------------------

  /** The reader changed something. @param {Object<string, *>} change @param {boolean} isDone whether it was let go */
  function changed(change, isDone) {
    var fields = Object.keys(change).sort().join();
    if ('limit' in change || 'full' in change) settings.beyond = null;
    Object.assign(settings, change);
    settings.own = S.own(settings, release);
    show(false);
    if (!isDone) return;
    var time = window.performance.now();
    var isSame = fields === lastPush.field && time - lastPush.time < TOGETHER;
    lastPush = { field: fields, time: time };
    write(!isSame);
  }

  /** Show what is chosen. @param {boolean} isNew whether the view is another one */
  function show(isNew) {
    ['choose', 'fan', 'pair'].forEach(function (name) { at('view-' + name).hidden = view.name !== name; });
    P.set(at('to-choose'), 'href', link('choose', settings));
    P.set(at('to-pair'), 'href', link(view.name === 'fan' ? 'compare/' + encodeURIComponent(view.one) : 'compare', settings));
    P.set(at('to-choose'), 'aria-current', view.name === 'choose' ? 'page' : 'false');
    P.set(at('to-pair'), 'aria-current', view.name === 'pair' ? 'page' : 'false');
    Stillroom.form.show(settings, release);
    beyond();
    var title = VIEWS[view.name]();
    document.title = title + ' · ' + release.lab;
    if (isNew) {
      var head = at({ choose: 'headline', fan: 'fan-title', pair: 'pair-title' }[view.name] || 'headline');
      if (head) head.focus({ preventScroll: true });
      window.scrollTo(0, 0);
    } else if (view.name === 'choose') announce(title);
  }

  /** A link asked for a limit that nobody measured. */
  function beyond() {
    var limit = settings.beyond;
    var end = settings.limit;
    at('beyond').hidden = limit === null;
    P.say(at('beyond'), limit === null ? '' : 'Not measured ' + (limit < end ? 'below ' : 'above ') + Stillroom.words.withUnit(String(end), 'dBA') +
      '; shown at ' + Stillroom.words.withUnit(String(end), 'dBA') + '.');
  }

  /** @type {Object<string, () => string>} */
  var VIEWS = {
    choose: function () { return Stillroom.ranking.show(settings, link); },
    fan: function () {
      Stillroom.fan.show(known(view.one), settings, est, release, link);
      return view.one;
    },
    pair: function () {
      Stillroom.pair.show(known(view.one), known(view.two), settings, est, release, link, function (one, two) {
        view = { name: 'pair', one: one, two: two };
        write(true);
        show(false);
      });
      return 'Is that gap real?';
    }
  };

  /** Say the answer once the reader rests: not each step of a slider. @param {string} words */
  function announce(words) {
    window.clearTimeout(spoken);
    spoken = window.setTimeout(function () { P.say(at('spoken'), words); }, QUIET);
  }

  // --- the start -----------------------------------------------------------------------------------------------

  /** A release that was corrected says so on top, with the way to the new one. */
  function notice() {
    var told = window.stillroomNotice;
    if (!told || typeof told.words !== 'string') return;
    var href = typeof told.href === 'string' && /^(\.\.?\/|[\w-]+[\w./-]*$)/.test(told.href) ? told.href : '';
    P.put(at('notice'), P.el('strong', {}, 'Corrected' + (told.date ? ' on ' + told.date : '') + '. '), told.words + ' ', href ? P.el('a', { href: href }, 'To the corrected release') : null);
    at('notice').hidden = false;
  }

  function colours() {
    at('theme').addEventListener('change', function () {
      if (at('theme').value) document.documentElement.dataset.theme = at('theme').value;
      else delete document.documentElement.dataset.theme;
    });
  }

  function failed() {
    P.say(at('loading'), 'The results of this release could not be opened: a file beside this page is missing or damaged.');
    at('loading').hidden = false;
  }

  function start() {
    colours();
    notice();
    release = window.stillroomRelease;
    if (!release || !window.stillroomData || typeof StillroomEstimate === 'undefined') { failed(); return; }
    est = StillroomEstimate.open(window.stillroomData);
    est.obstacles.forEach(function (/** @type {any} */ each) { Object.assign(each, release.obstacles[each.name] || {}); });
    at('skip').addEventListener('click', function (/** @type {Event} */ event) { event.preventDefault(); at('main').focus(); });
    Stillroom.form.start(est, release, changed);
    Stillroom.ranking.start(est, release, changed);
    read();
    show(false);
    document.documentElement.dataset.ready = 'true';
    window.performance.mark('ranking');
    window.addEventListener('hashchange', follow);
    window.addEventListener('popstate', follow);
    window.addEventListener('resize', resized);
  }

  /** Drawings of a fan are as wide as the window. */
  function resized() {
    window.clearTimeout(resizing);
    resizing = window.setTimeout(function () { if (view.name === 'fan') show(false); }, QUIET / 4);
  }

  /** The link changed: by a click, by the back button, by hand. */
  function follow() {
    var before = place();
    read();
    show(before !== place());
  }

  start();
})();
