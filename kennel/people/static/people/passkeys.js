// Shows what needs passkeys only where there are passkeys, and says in words why a ceremony ended.
(function () {
  'use strict'
  const reasons = {
    NotAllowedError: 'That was cancelled, took too long, or this device has no passkey for here.',
    InvalidStateError: 'This device has a passkey for your account already.',
    SecurityError: 'Passkeys need https and the address this server was set up with.'
  }

  function say (text) {
    for (const place of document.querySelectorAll('[data-passkey-error]')) {
      place.textContent = text
      place.hidden = !text
    }
  }

  document.addEventListener('allauth.error', function (event) {
    event.preventDefault()
    const error = event.detail.exception
    say(reasons[error && error.name] || 'That did not work. Please try again.')
  })

  document.addEventListener('click', function (event) {
    if (event.target.closest('[data-passkey] button')) say('')
  }, true)

  document.addEventListener('DOMContentLoaded', function () {
    if (!window.webauthnJSON || !window.webauthnJSON.supported()) return
    for (const part of document.querySelectorAll('[data-passkey]')) part.hidden = false
    for (const part of document.querySelectorAll('[data-passkey-missing]')) part.hidden = true
  })
})()
