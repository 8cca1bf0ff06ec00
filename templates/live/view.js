// Follows the files: when the program says that something is new, the page's own address is asked for again and its text put in place.
// Nothing here changes anything but this page. Without this script a page has a link to be read again.
"use strict";
(function () {
  var news = document.getElementById("news");
  function seen() { return document.querySelector('meta[name="slipmark-seen"]'); }
  function say(text) { if (news) { news.textContent = text; news.hidden = !text; } }

  // Where somebody is in the page: what has the focus, by its id or by its place among what can have it.
  var CAN = "a[href], button, input, select, summary";
  function place() {
    var own = document.activeElement;
    if (!own || own === document.body) return null;
    return { id: own.id, at: Array.prototype.indexOf.call(document.querySelectorAll(CAN), own), value: own.value, tag: own.tagName };
  }
  function back(to) {
    if (!to) return;
    var own = (to.id && document.getElementById(to.id)) || document.querySelectorAll(CAN)[to.at];
    if (!own || own.tagName !== to.tag) return;
    if (own.tagName === "INPUT" && own.type !== "checkbox") own.value = to.value;
    own.focus({ preventScroll: true });
  }
  function opened() {
    return Array.prototype.map.call(document.querySelectorAll("main details"), function (own) { return own.open; });
  }

  function asked(address) {
    return fetch(address, { headers: { accept: "text/html" }, cache: "no-store" }).then(function (reply) { return reply.text(); }).then(function (text) {
      return new DOMParser().parseFromString(text, "text/html");
    });
  }

  var asking = false, again = false;
  function renew() {
    if (asking) { again = true; return; }
    asking = true;
    asked(location.href).then(function (page) {
      var main = page.querySelector("main"), number = page.querySelector('meta[name="slipmark-seen"]');
      if (!main || !number) throw new Error("no page");
      var to = place(), open = opened(), x = scrollX, y = scrollY;
      document.querySelector("main").replaceWith(document.adoptNode(main));
      ["whence", "draft"].forEach(function (name) {
        var old = document.querySelector(".head ." + name), other = page.querySelector(".head ." + name);
        if (old && other) old.replaceWith(document.adoptNode(other)); else if (old) old.remove();
        else if (other) document.querySelector(".head").append(document.adoptNode(other));
      });
      document.title = page.title;
      seen().content = number.content;
      document.querySelectorAll("main details").forEach(function (own, at) { if (at in open) own.open = open[at]; });
      back(to);
      scrollTo(x, y);
      say("");
      document.dispatchEvent(new Event("renewed"));
    }).catch(function () {
      say("This page is old: the program did not answer when it was asked again.");
    }).then(function () {
      asking = false;
      if (again) { again = false; renew(); }
    });
  }

  function listen() {
    if (typeof EventSource === "undefined" || !seen()) return;
    var source = new EventSource("/-/events?seen=" + encodeURIComponent(seen().content));
    source.addEventListener("new", function (event) { if (event.data !== seen().content) renew(); });
    source.addEventListener("open", function () { if (news && !news.hidden) renew(); });
    source.addEventListener("error", function () { say("This page is no longer told of changes, and may be old. Start slipmark view again, or read the page again."); });
  }
  listen();

  // A form that names its answer is sent as it is filled in: the address becomes what the form would lead to, and the answer of that page
  // is put in place of this one's. A range beside a field moves what stands in the field.
  var waiting, turn = 0;
  function send(form) {
    var address = form.action.split(/[?#]/)[0] + "?" + new URLSearchParams(new FormData(form)), own = ++turn, name = form.dataset.answer;
    asked(address).then(function (page) {
      var other = page.getElementById(name), old = document.getElementById(name);
      if (own !== turn || !other || !old) return;
      old.replaceWith(document.adoptNode(other));
      history.replaceState(null, "", address);
    }).catch(function () { say("The program did not answer: what is shown belongs to what was asked before."); });
  }
  document.addEventListener("input", function (event) {
    var own = event.target, form = own.closest("form[data-answer]");
    if (!form) return;
    if (own.dataset.for) document.getElementById(own.dataset.for).value = own.value;
    else form.querySelectorAll('[data-for="' + own.id + '"]').forEach(function (range) { if (isFinite(own.value)) range.value = own.value; });
    clearTimeout(waiting);
    waiting = setTimeout(send, 100, form);
  });
  function ranges() { document.querySelectorAll("input[data-for]").forEach(function (own) { own.hidden = false; }); }
  document.addEventListener("renewed", ranges);
  ranges();

  // Keys. None of them does anything while something is typed.
  var LINES = "main tbody tr, main .found li";
  var line = -1;
  function go(step) {
    var all = document.querySelectorAll(LINES);
    if (!all.length) return;
    all.forEach(function (own) { own.classList.remove("here"); });
    line = Math.max(0, Math.min(all.length - 1, line + step));
    all[line].classList.add("here");
    all[line].scrollIntoView({ block: "nearest" });
    var link = all[line].querySelector("a[href]");
    if (link) link.focus({ preventScroll: true });
  }
  function to(key) {
    var link = document.querySelector('.head nav a[data-key="' + key + '"]');
    if (link) location.href = link.href;
  }
  document.addEventListener("keydown", function (event) {
    var own = event.target;
    if (event.ctrlKey || event.metaKey || event.altKey || /^(INPUT|SELECT|TEXTAREA)$/.test(own.tagName)) return;
    if (event.key === "j") go(1);
    else if (event.key === "k") go(-1);
    else if (event.key.length === 1 && "/?oemcr".indexOf(event.key) >= 0) { event.preventDefault(); to(event.key); }
  });

  // A range that moves through the revisions of a thing, which without it are links.
  function slider() {
    var range = document.getElementById("at");
    if (!range) return;
    var all = document.querySelectorAll(".revisions > li");
    function show() { all.forEach(function (own, at) { own.hidden = at !== Number(range.value); }); range.setAttribute("aria-valuetext", all[range.value] ? all[range.value].dataset.words : ""); }
    range.closest("form").hidden = false;
    range.addEventListener("input", show);
    show();
  }
  document.addEventListener("renewed", slider);
  slider();
})();
