//! What host and student share at the edge of the network: conversion, sockets, discovery.
