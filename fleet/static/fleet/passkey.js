// Says so when the browser gave no passkey: the account library's scripts tell nobody but the console.
document.addEventListener("allauth.error", (event) => {
  event.preventDefault();
  document.getElementById("no-passkey").hidden = false;
});
