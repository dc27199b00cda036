"use strict";
(function () {
  document.querySelectorAll("form").forEach(function (form) {
    form.addEventListener("submit", function () {
      var busy = document.getElementById("busy");
      if (busy && form.dataset.busy) { busy.hidden = false; }
      setTimeout(function () { form.querySelectorAll("button").forEach(function (one) { one.disabled = true; }); }, 0);
    });
  });
  window.addEventListener("pageshow", function () {
    document.querySelectorAll("button[disabled]").forEach(function (one) { one.disabled = false; });
    var busy = document.getElementById("busy");
    if (busy) { busy.hidden = true; }
  });
  document.querySelectorAll("[data-more]").forEach(function (button) {
    button.hidden = false;
    button.addEventListener("click", function () {
      var body = document.querySelector(".typed tbody"), last = body.rows[body.rows.length - 1];
      var made = last.cloneNode(true), number = Number(last.dataset.line) + 1;
      made.dataset.line = number;
      made.querySelectorAll("input, select").forEach(function (field) {
        field.name = field.name.replace(/^\d+/, number);
        field.setAttribute("aria-label", field.getAttribute("aria-label").replace(/\d+/, number));
        field.id = field.id.replace(/\d+/, number);
        field.removeAttribute("aria-invalid");
        field.removeAttribute("aria-describedby");
        field.classList.remove("wrong");
        if (field.tagName === "INPUT") { field.value = ""; }
      });
      made.querySelectorAll(".fault").forEach(function (one) { one.remove(); });
      made.querySelectorAll("th").forEach(function (one) { one.textContent = number; });
      body.appendChild(made);
      made.querySelector("input").focus();
    });
  });
  document.querySelectorAll(".drop").forEach(function (area) {
    var input = area.querySelector("input[type=file]");
    ["dragenter", "dragover"].forEach(function (name) {
      area.addEventListener(name, function (event) { event.preventDefault(); area.classList.add("over"); });
    });
    area.addEventListener("dragleave", function () { area.classList.remove("over"); });
    area.addEventListener("drop", function (event) {
      event.preventDefault();
      area.classList.remove("over");
      if (event.dataTransfer.files.length) { input.files = event.dataTransfer.files; }
    });
  });
  var told = document.getElementById("told");
  if (told) { told.focus(); }
})();
