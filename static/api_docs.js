"use strict";
window.addEventListener("DOMContentLoaded", () => {
  SwaggerUIBundle({
    url: "/api/openapi.json",
    dom_id: "#swagger-ui",
    deepLinking: true,
    validatorUrl: null,
    // What is tried from this page goes under the session of whoever looks at it.
    requestInterceptor: (request) => {
      request.headers["X-Leadline-Token"] = document.body.dataset.token;
      return request;
    },
    // It brings a main landmark of its own into ours; a page has one.
    onComplete: () => document.querySelector("#swagger-ui main")?.setAttribute("role", "none"),
  });
});
